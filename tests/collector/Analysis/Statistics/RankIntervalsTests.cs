using Cardassay.Collector.Analysis.Statistics;

namespace Cardassay.Collector.Tests.Analysis.Statistics;

public class RankIntervalsTests
{
    [Fact]
    public void Of_WorkedExample_GivesHonestTies()
    {
        // METHOD rule 8: A[100,110] B[104,112] C[90,99] D[60,70] -> [1,2] [1,2] [3,3] [4,4].
        RankInterval[] ranks = RankIntervals.Of([(100, 110), (104, 112), (90, 99), (60, 70)]);
        Assert.Equal([new(1, 2, 1), new(1, 2, 1), new(3, 3, 2), new(4, 4, 3)], ranks);
    }

    [Fact]
    public void Of_Chain_IsOneGroupThoughItsEndsAreToldApart()
    {
        RankInterval[] ranks = RankIntervals.Of([(10, 20), (18, 30), (28, 40)]);
        Assert.Equal([new(2, 3, 1), new(1, 3, 1), new(1, 2, 1)], ranks);
    }

    [Fact]
    public void Of_TouchingBounds_AreNotToldApart()
    {
        RankInterval[] ranks = RankIntervals.Of([(10, 20), (20, 30)]);
        Assert.All(ranks, r => Assert.Equal((1, 2), (r.Best, r.Worst)));
    }

    [Fact]
    public void Of_RandomIntervals_AgreesWithTheDefinition()
    {
        var random = new Random(20);
        for (int round = 0; round < 200; round++)
        {
            (double Low, double High)[] x = [.. Enumerable.Range(0, 12).Select(_ => { int l = random.Next(30); return ((double)l, (double)(l + random.Next(8))); })];
            RankInterval[] ranks = RankIntervals.Of(x);
            for (int k = 0; k < x.Length; k++)
            {
                Assert.Equal(1 + x.Count(j => j.Low > x[k].High), ranks[k].Best);
                Assert.Equal(x.Length - x.Count(j => j.High < x[k].Low), ranks[k].Worst);
                for (int j = 0; j < x.Length; j++)
                {
                    Assert.True(ranks[j].Group >= ranks[k].Group || x[j].Low > x[k].High);
                }
            }
        }
    }

    // Recomputed with R 4.2: least n with 1 - 2^(1-n) >= 0.95^(1/K).
    [Theory]
    [InlineData(5, 8)]
    [InlineData(15, 10)]
    [InlineData(50, 11)]
    [InlineData(200, 13)]
    [InlineData(500, 15)]
    public void LeastRuns_Cards_MatchesTable(int cards, int least) => Assert.Equal(least, RankIntervals.LeastRuns(cards));

    [Fact]
    public void FirmCards_TakesTheLargestSetThatCarriesItself()
    {
        Assert.Equal(5, RankIntervals.FirmCards([8, 8, 8, 8, 8]));
        Assert.Equal(0, RankIntervals.FirmCards([1, 3]));
        Assert.Equal(1, RankIntervals.FirmCards([6, 1, 3]));
        Assert.Equal(6, RankIntervals.FirmCards([9, 9, 9, 9, 9, 9, 5])); // seven would need 9 runs of every one
    }
}
