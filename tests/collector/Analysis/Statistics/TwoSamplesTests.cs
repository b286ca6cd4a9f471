using Cardassay.Collector.Analysis.Statistics;

namespace Cardassay.Collector.Tests.Analysis.Statistics;

public class TwoSamplesTests
{
    private static readonly double[] X = [.80, .83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, .73, 1.46];
    private static readonly double[] Y = [1.15, .88, .90, .74, 1.21];

    [Fact]
    public void Of_RExample_AgreesWithWilcoxTest()
    {
        // R 4.2, example of ?wilcox.test (Hollander and Wolfe 1973, p. 69): W = 35, one-sided p = 0.1272; with conf.int = TRUE
        // the shift is 0.305 and its interval [-0.15, 0.76].
        TwoSamples result = TwoSamples.Of(X, Y);
        Assert.Equal(35, result.W);
        Assert.Equal(0.1272, result.GreaterP, 0.00005);
        Assert.Equal(0.305, result.Shift, 12);
        Assert.Equal(-0.15, result.Low, 12);
        Assert.Equal(0.76, result.High, 12);
        Assert.True(result.Level >= 0.95);
    }

    [Fact]
    public void Of_ThreeAgainstThree_NeverReachesTenPercent()
    {
        Assert.Equal(0.1, TwoSamples.Of([4, 5, 6], [1, 2, 3]).P, 12); // 2 of the 20 arrangements
    }

    [Fact]
    public void CumulativeCounts_SmallSamples_AgreeWithEnumeration()
    {
        double[] below = TwoSamples.CumulativeCounts(4, 3);
        var counts = new int[13];
        for (int mask = 0; mask < 128; mask++)
        {
            if (System.Numerics.BitOperations.PopCount((uint)mask) == 4)
            {
                int w = 0;
                for (int i = 0; i < 7; i++)
                {
                    for (int j = 0; j < i; j++)
                    {
                        w += (mask >> i & 1) == 1 && (mask >> j & 1) == 0 ? 1 : 0;
                    }
                }

                counts[w]++;
            }
        }

        int sum = 0;
        for (int w = 0; w < 13; w++)
        {
            sum += counts[w];
            Assert.Equal(sum / 35.0, below[w], 12);
        }
    }

    [Fact]
    public void Delta_TiedExample_IsMinusAQuarter()
    {
        // Recomputed with R 4.2.
        TwoSamples result = TwoSamples.Of([10, 10, 20, 20, 20, 30, 30, 30, 40, 50], [10, 20, 30, 40, 40, 50]);
        Assert.Equal(-0.25, result.Delta, 12);
    }

    [Fact]
    public void OnLogs_ConstantFactor_GivesTheRatio()
    {
        TwoSamples result = TwoSamples.OnLogs([.. X.Select(v => 1.1 * v)], X);
        Assert.InRange(1.1, result.Low, result.High);
    }
}
