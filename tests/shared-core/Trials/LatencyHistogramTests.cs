using Cardassay.Trials;

namespace Cardassay.SharedCore.Tests.Trials;

public sealed class LatencyHistogramTests
{
    [Fact]
    public void OfBuckets_AnswersAsTheRecordedOneAndCanGoOn()
    {
        const int seed = 7;
        var random = new Random(seed);
        var recorded = new LatencyHistogram();
        for (int i = 0; i < 40_000; i++)
        {
            recorded.Record((long)Math.Exp(8 + (random.NextDouble() * 12)));
        }

        LatencyHistogram kept = LatencyHistogram.OfBuckets(recorded.Buckets());
        Same(recorded, kept);
        foreach (LatencyHistogram histogram in new[] { recorded, kept })
        {
            histogram.Record(123_456);
            histogram.Merge(LatencyHistogram.OfBuckets([(77, 3), (9_000_000, 2)]));
        }

        Assert.Equal(40_006, kept.Count);
        Same(recorded, kept);
    }

    /// <summary>What did not come from counters must be asked from counters: it may be unordered, empty or between two buckets.</summary>
    [Theory]
    [InlineData(0, 1, 5, 1)]
    [InlineData(5, 1, 5, 1)]
    [InlineData(9, 1, 5, 1)]
    [InlineData(5, 1, 9, 0)]
    [InlineData(5, 1, 257, 1)]
    [InlineData(5, 1, 4_000_000_000_000, 1)]
    public void Buckets_NotAsCountersGiveThem_AreThoseOfTheCounters(long first, long firstCount, long second, long secondCount)
    {
        var counted = new LatencyHistogram();
        counted.AddBucket(first, firstCount);
        counted.AddBucket(second, secondCount);
        Assert.Equal(counted.Buckets(), LatencyHistogram.OfBuckets([(first, firstCount), (second, secondCount)]).Buckets());
    }

    /// <summary>Buckets of counters are taken as they are; each of them is where the library says a bucket begins.</summary>
    [Fact]
    public void OfBuckets_OfAHistogram_GivesTheVeryBuckets()
    {
        var random = new Random(11);
        var recorded = new LatencyHistogram();
        for (int i = 0; i < 20_000; i++)
        {
            recorded.Record((long)Math.Exp(5 + (random.NextDouble() * 19))); // 0.15 us to 26 s; the library's own order breaks beyond four minutes
        }

        (long, long)[] buckets = [.. recorded.Buckets()];
        Assert.Same(buckets, LatencyHistogram.OfBuckets(buckets).Buckets() is (long, long)[] kept && kept.SequenceEqual(buckets) ? buckets : null);
    }

    private static void Same(LatencyHistogram expected, LatencyHistogram actual)
    {
        Assert.Equal(expected.Count, actual.Count);
        Assert.Equal(expected.MaxNs, actual.MaxNs);
        Assert.Equal(expected.Buckets(), actual.Buckets());
        Assert.All([50, 90, 99, 99.9, 99.99], p => Assert.Equal(expected.PercentileNs(p), actual.PercentileNs(p)));
    }
}
