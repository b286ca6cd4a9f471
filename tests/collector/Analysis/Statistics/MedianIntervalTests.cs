using Cardassay.Collector.Analysis.Statistics;

namespace Cardassay.Collector.Tests.Analysis.Statistics;

public class MedianIntervalTests
{
    // Ranks and levels recomputed with R 4.2 (qbinom, pbinom).
    [Theory]
    [InlineData(3, 1, 3, 75.0, true)]
    [InlineData(4, 1, 4, 87.5, true)]
    [InlineData(5, 1, 5, 93.75, true)]
    [InlineData(6, 1, 6, 96.88, false)]
    [InlineData(7, 1, 7, 98.44, false)]
    [InlineData(8, 1, 8, 99.22, false)]
    [InlineData(9, 2, 8, 96.09, false)]
    [InlineData(10, 2, 9, 97.85, false)]
    [InlineData(12, 3, 10, 96.14, false)]
    [InlineData(15, 4, 12, 96.48, false)]
    [InlineData(17, 5, 13, 95.10, false)]
    [InlineData(20, 6, 15, 95.86, false)]
    [InlineData(25, 8, 18, 95.67, false)]
    [InlineData(30, 10, 21, 95.72, false)]
    public void Of_NominalLevel_UsesTheExactRanks(int n, int low, int high, double percent, bool rangeOnly)
    {
        double[] values = [.. Enumerable.Range(1, n).Select(i => (double)i).Reverse()];
        MedianInterval interval = MedianInterval.Of(values, MedianInterval.NominalLevel);
        Assert.Equal(low, interval.LowRank);
        Assert.Equal(high, interval.HighRank);
        Assert.Equal(low, interval.Low);
        Assert.Equal(high, interval.High);
        Assert.Equal(percent, 100 * interval.Level, 0.0051);
        Assert.Equal(rangeOnly, interval.IsRangeOnly);
        Assert.Equal((n + 1) / 2.0, interval.Median);
    }

    [Fact]
    public void Of_PublishedLevel_ExistsFromSevenOn()
    {
        Assert.True(MedianInterval.Of([1, 2, 3, 4, 5, 6]).IsRangeOnly);
        Assert.False(MedianInterval.Of([1, 2, 3, 4, 5, 6, 7]).IsRangeOnly);
    }

    [Fact]
    public void Of_OneValue_IsARangeWithoutLevel()
    {
        MedianInterval interval = MedianInterval.Of([42]);
        Assert.Equal((42, 42, 0, true), (interval.Low, interval.High, interval.Level, interval.IsRangeOnly));
    }

    [Fact]
    public void Of_NoValueOrNotANumber_Throws()
    {
        Assert.Throws<ArgumentException>(() => MedianInterval.Of([]));
        Assert.Throws<ArgumentException>(() => MedianInterval.Of([1, double.NaN, 2]));
    }

    [Fact]
    public void Coverage_LargeN_AgreesWithDirectSum()
    {
        // Direct sum of C(200, k) / 2^200 in logarithms.
        double log = -200 * Math.Log(2), below = 0;
        for (int k = 0; k < 86; k++)
        {
            below += Math.Exp(log);
            log += Math.Log((200.0 - k) / (k + 1));
        }

        Assert.Equal(1 - 2 * below, MedianInterval.Coverage(200, 86), 1e-10);
        Assert.Equal(1 - 2 * MathNet.Numerics.Distributions.Binomial.CDF(0.5, 200, 85), MedianInterval.Coverage(200, 86), 1e-10);
    }
}
