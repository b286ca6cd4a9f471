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

    [Fact]
    public void PackedBuckets_ComeBackAsTheyWere()
    {
        const int seed = 11;
        var random = new Random(seed);
        (long, long)[] made = [(0, 0), (long.MaxValue, long.MinValue), (long.MinValue, long.MaxValue), (-1, -1), .. Enumerable.Range(0, 10_000).Select(Any)];
        Assert.Equal(made, PackedBuckets.Of(made).All());
        Assert.Equal(made.Aggregate(0L, (sum, bucket) => unchecked(sum + bucket.Item2)), PackedBuckets.Of(made).Total);
        Assert.Empty(PackedBuckets.Empty.All());

        // Numbers of every length, from 0 to 63 bits, of either sign.
        (long, long) Any(int i) => (random.NextInt64(long.MinValue, long.MaxValue) >> (i % 64), random.NextInt64(long.MinValue, long.MaxValue) >> (i / 64 % 64));
    }

    private static void Same(LatencyHistogram expected, LatencyHistogram actual)
    {
        Assert.Equal(expected.Count, actual.Count);
        Assert.Equal(expected.MaxNs, actual.MaxNs);
        Assert.Equal(expected.Buckets(), actual.Buckets());
        Assert.All([50, 90, 99, 99.9, 99.99], p => Assert.Equal(expected.PercentileNs(p), actual.PercentileNs(p)));
    }
}
