using Cardassay.Collector.Analysis.Statistics;

namespace Cardassay.Collector.Tests.Analysis.Statistics;

public class ChangeSearchTests
{
    // Annual flow of the Nile at Aswan 1871 to 1970, 10^8 m^3 (R datasets `Nile`).
    internal static readonly double[] Nile =
    [
        1120, 1160, 963, 1210, 1160, 1160, 813, 1230, 1370, 1140, 995, 935, 1110, 994, 1020, 960, 1180, 799, 958, 1140, 1100, 1210, 1150, 1250,
        1260, 1220, 1030, 1100, 774, 840, 874, 694, 940, 833, 701, 916, 692, 1020, 1050, 969, 831, 726, 456, 824, 702, 1120, 1100, 832, 764, 821,
        768, 845, 864, 862, 698, 845, 744, 796, 1040, 759, 781, 865, 845, 944, 984, 897, 822, 1010, 771, 676, 649, 846, 812, 742, 801, 1040, 860,
        874, 848, 890, 744, 749, 838, 1050, 918, 986, 797, 923, 975, 815, 1020, 906, 901, 1170, 912, 746, 919, 718, 714, 740,
    ];

    [Fact]
    public void BestSplit_Nile_IsAfter1898()
    {
        int split = ChangeSearch.BestSplit(Nile);
        Assert.Equal(28, split);
        Assert.Equal(1097.75, Nile[..split].Average(), 9);
        Assert.Equal(849.97, Nile[split..].Average(), 0.005);
        Assert.Equal((28, 1617), Pettitt(Nile)); // an independent method finds the same place
    }

    [Fact]
    public void MostByTwo_AnyLength_IsTheLargestGainToTheLastBit()
    {
        for (int n = ChangeSearch.Least; n <= ChangeSearch.Most; n++)
        {
            double[] values = Noise(n, 100 + n);
            foreach (int i in (int[])[0, 1, 2, n - 1])
            {
                values[i] /= 1.5; // best would be a last level of one value, which is too short to count
            }

            double[] logs = [.. values.Select(v => Math.Log(v))];
            double[] sums = new double[n + 1];
            for (int i = 0; i < n; i++)
            {
                sums[i + 1] = sums[i] + (logs[i] - logs[0]);
            }

            // Every pair of changes, one after the other, with the same sums in the same order.
            double most = 0;
            for (int i = ChangeSearch.Segment; i <= n - (2 * ChangeSearch.Segment); i++)
            {
                for (int j = i + ChangeSearch.Segment; j <= n - ChangeSearch.Segment; j++)
                {
                    most = Math.Max(most, Gain(0, i) - Gain(0, n) + Gain(i, j) + Gain(j, n));
                }
            }

            Assert.Equal(most, ChangeSearch.MostByTwo(logs));
            Assert.True(n < 3 * ChangeSearch.Segment || most > 0);

            double Gain(int from, int to) => (sums[to] - sums[from]) * (sums[to] - sums[from]) / (to - from);
        }
    }

    [Fact]
    public void Statistic_PlantedChange_FindsThePlaceAndNoOrderReachesIt()
    {
        double[] values = Logs(Noise(24, 11));
        for (int i = 0; i < 6; i++)
        {
            values[i] -= 0.1;
        }

        var search = new ChangeSearch(values, null);
        Assert.Equal([6], search.Starts);
        Assert.True(search.Share(search.Statistic, 1) <= 0.0002);
        Assert.True(search.Largest >= search.Statistic);
        Assert.True(search.RoughP < 1e-6);
        var honest = new ChangeSearch(Logs(Noise(24, 3)), null);
        Assert.True(honest.Share(honest.Statistic, 1) > 0.01);
        Assert.True(honest.Largest < search.Statistic);
    }

    [Fact]
    public void Starts_TwoPlantedChanges_AreBothFound()
    {
        double[] values = Logs(Noise(21, 5));
        for (int i = 7; i < 14; i++)
        {
            values[i] += 0.2;
        }

        Assert.Equal([7, 14], new ChangeSearch(values, null).Starts);
        Assert.Equal([7, 14], new ChangeSearch(values, new ModeratedVariances(3, 0.0001)).Starts);
        Assert.Equal([7, 14], new ChangeSearch(values, new ModeratedVariances(double.PositiveInfinity, 0.0001)).Starts);
    }

    [Fact]
    public void Share_EightValues_EnumeratesEveryOrder()
    {
        // Of the 40,320 orders those with the four low values first or last divide as well: 2 x 4! x 4!.
        var search = new ChangeSearch(Logs([90, 90.1, 90.2, 90.3, 100, 100.1, 100.2, 100.3]), null);
        Assert.Equal([4], search.Starts);
        Assert.Equal(2 * 24 * 24 / 40320.0, search.Share(search.Statistic, 1), 12);
    }

    private static double[] Logs(double[] values) => Array.ConvertAll(values, Math.Log);

    private static double[] Noise(int n, int seed)
    {
        var normal = new MathNet.Numerics.Distributions.Normal(0, 0.01, new MathNet.Numerics.Random.MersenneTwister(seed));
        return [.. Enumerable.Range(0, n).Select(_ => 1000 * Math.Exp(normal.Sample()))];
    }

    private static (int Place, double K) Pettitt(double[] values)
    {
        (int Place, double K) best = (0, 0);
        for (int t = 1; t < values.Length; t++)
        {
            double u = 0;
            foreach (double left in values[..t])
            {
                u += values[t..].Sum(right => Math.Sign(left - right));
            }

            best = Math.Abs(u) > best.K ? (t, Math.Abs(u)) : best;
        }

        return best;
    }
}
