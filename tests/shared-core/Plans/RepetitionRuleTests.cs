using Cardassay.Plans;

namespace Cardassay.SharedCore.Tests.Plans;

public sealed class RepetitionRuleTests
{
    // Ranks of the 95 % interval of the median, exact binomial, recomputed with R 4.2: 1 - 2 * pbinom(k - 1, n, 0.5) >= 0.95.
    [Theory]
    [InlineData(5, 0)]
    [InlineData(6, 1)]
    [InlineData(7, 1)]
    [InlineData(8, 1)]
    [InlineData(9, 2)]
    [InlineData(10, 2)]
    [InlineData(12, 3)]
    [InlineData(15, 4)]
    [InlineData(17, 5)]
    [InlineData(20, 6)]
    [InlineData(25, 8)]
    [InlineData(30, 10)]
    public void LowerRank_At95Percent_IsTheTablesRank(int n, int rank) => Assert.Equal(rank, RepetitionRule.LowerRank(n, 0.95));

    // The widest interval at 6 covers 96.88 %, at 7 98.44 %: so none at 97.5 % below 7.
    [Theory]
    [InlineData(6, 0)]
    [InlineData(7, 1)]
    public void LowerRank_At97Percent_BeginsAtSeven(int n, int rank) => Assert.Equal(rank, RepetitionRule.LowerRank(n, RepetitionRule.Coverage));

    [Fact]
    public void HalfWidthPercent_SevenValues_IsHalfTheRangeOverTheMedian() =>
        Assert.Equal(100.0 * (106 - 97) / 2 / 100, RepetitionRule.HalfWidthPercent([100, 97, 99, 101, 98, 106, 102])!.Value, 9);

    [Fact]
    public void After_SteadyValues_SettlesAtTheFirstLook()
    {
        var repetitions = new Repetitions(7, 30, 5);
        Assert.Equal(RepetitionDecision.Continue, RepetitionRule.After(Steady(6), repetitions));
        Assert.Equal(RepetitionDecision.Settled, RepetitionRule.After(Steady(7), repetitions));
    }

    [Fact]
    public void After_ScatteredValues_IsNotSettledAtTheEndAndOnlyLooksAtTheLooks()
    {
        var repetitions = new Repetitions(7, 30, 5);
        double[] scattered = [.. Enumerable.Range(0, 30).Select(i => 100.0 + (i % 2 == 0 ? 30 : -30))];
        Assert.All(Enumerable.Range(7, 23), n => Assert.Equal(RepetitionDecision.Continue, RepetitionRule.After(scattered[..n], repetitions)));
        Assert.Equal(RepetitionDecision.NotSettled, RepetitionRule.After(scattered, repetitions));
        Assert.Equal(RepetitionDecision.Continue, RepetitionRule.After(Steady(8), repetitions));
        Assert.Equal(RepetitionDecision.Settled, RepetitionRule.After(Steady(9), repetitions));
    }

    [Fact]
    public void After_FixedNumber_CountsOnly()
    {
        Assert.Equal(RepetitionDecision.Continue, RepetitionRule.After([1, 100], Repetitions.Fixed(3)));
        Assert.Equal(RepetitionDecision.Settled, RepetitionRule.After([1, 100, 5], Repetitions.Fixed(3)));
    }

    private static double[] Steady(int count) => [.. Enumerable.Range(0, count).Select(i => 100.0 + (i % 3))];
}
