using Cardassay.Collector.Analysis.Statistics;

namespace Cardassay.Collector.Tests.Analysis.Statistics;

public class TrendTests
{
    private static readonly double[] Example = [1.26, 1.27, 1.12, 1.16, 1.03];

    [Fact]
    public void MannKendall_FiveValues_AgreesWithTable()
    {
        // S = -6 and 14/120 = 0.11667 from the exact table for n = 5; that table counts one tail, both are twice as much.
        MannKendall result = MannKendall.Of(Example);
        Assert.Equal(-6, result.S);
        Assert.Equal(14 / 120.0, result.OneTailP, 12);
        Assert.Equal(28 / 120.0, result.P, 12);
    }

    [Fact]
    public void MannKendall_EveryPermutationOfSix_GivesTheExactDistribution()
    {
        int[] order = [0, 1, 2, 3, 4, 5];
        var counts = new Dictionary<int, int>();
        int total = 0;
        Permute(order, 0, values =>
        {
            int s = MannKendall.Of([.. values.Select(v => (double)v)]).S;
            counts[s] = counts.GetValueOrDefault(s) + 1;
            total++;
        });
        foreach (int s in counts.Keys.Where(s => s >= 0))
        {
            Assert.Equal(counts.Where(c => c.Key >= s).Sum(c => c.Value) / (double)total, MannKendall.ExactTail(6, s), 12);
        }
    }

    [Fact]
    public void MannKendall_FlatOrTied_IsNoTrend()
    {
        Assert.Equal(1, MannKendall.Of([5, 5, 5, 5, 5]).OneTailP);
        Assert.True(MannKendall.Of([1, 1, 2, 2, 3, 3, 4, 4, 5, 5, 6, 6]).P < 0.001);
    }

    [Fact]
    public void TheilSen_SameExample_GivesTheMedianSlope()
    {
        Assert.Equal(-0.05625, TheilSen.Slope([1, 2, 3, 4, 5], Example)!.Value, 12); // recomputed with R 4.2
        Assert.Null(TheilSen.Slope([1, 1], [2, 3]));
    }

    [Fact]
    public void KendallTauB_RandomWithTies_AgreesWithItsDefinition()
    {
        var random = new Random(7);
        for (int round = 0; round < 100; round++)
        {
            double[] x = [.. Enumerable.Range(0, 25).Select(_ => (double)random.Next(8))], y = [.. x.Select(v => v + random.Next(6))];
            double agree = 0, untiedX = 0, untiedY = 0;
            for (int i = 0; i < x.Length; i++)
            {
                for (int j = 0; j < i; j++)
                {
                    agree += Math.Sign(x[i] - x[j]) * Math.Sign(y[i] - y[j]);
                    untiedX += x[i] != x[j] ? 1 : 0;
                    untiedY += y[i] != y[j] ? 1 : 0;
                }
            }

            Assert.Equal(agree / Math.Sqrt(untiedX * untiedY), KendallTau.B(x, y)!.Value, 12);
        }

        Assert.Null(KendallTau.B([1, 1, 1], [1, 2, 3]));
    }

    private static void Permute(int[] order, int from, Action<int[]> visit)
    {
        if (from == order.Length)
        {
            visit(order);
            return;
        }

        for (int i = from; i < order.Length; i++)
        {
            (order[from], order[i]) = (order[i], order[from]);
            Permute(order, from + 1, visit);
            (order[from], order[i]) = (order[i], order[from]);
        }
    }
}
