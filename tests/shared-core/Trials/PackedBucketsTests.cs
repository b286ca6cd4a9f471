using Cardassay.Trials;

namespace Cardassay.SharedCore.Tests.Trials;

public sealed class PackedBucketsTests
{
    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    public void All_WhateverWasGiven_ComesBackInItsOrder(int seed)
    {
        var random = new Random(seed);
        for (int round = 0; round < 300; round++)
        {
            (long, long)[] given = [.. Enumerable.Range(0, random.Next(0, 60)).Select(_ => (Any(random), Any(random)))];
            Assert.Equal(given, PackedBuckets.Of(given).All());
        }
    }

    [Fact]
    public void All_BucketsOfAHistogram_TakeAboutThreeBytesEachAndComeBack()
    {
        const int seed = 11;
        var random = new Random(seed);
        var recorded = new LatencyHistogram();
        for (int i = 0; i < 20_000; i++)
        {
            recorded.Record((long)Math.Exp(5 + (random.NextDouble() * 19))); // 0.15 us to 26 s; the library's own order breaks beyond four minutes
        }

        (long, long)[] buckets = [.. recorded.Buckets()];
        var packed = PackedBuckets.Of(buckets);
        Assert.True(packed.AreCounters);
        Assert.Equal(buckets, packed.All());
        Assert.InRange(packed.Bytes.Length, buckets.Length, (3 * buckets.Length) + 12);
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
        (long, long)[] given = [(first, firstCount), (second, secondCount)];
        Assert.False(PackedBuckets.Of(given).AreCounters);
        var counted = new LatencyHistogram();
        counted.AddBucket(first, firstCount);
        counted.AddBucket(second, secondCount);
        Assert.Equal(counted.Buckets(), LatencyHistogram.OfBuckets(given).Buckets());
    }

    private static long Any(Random random) => random.Next(4) switch
    {
        0 => random.Next(-300, 300),
        1 => random.NextInt64(long.MinValue, long.MaxValue),
        2 => long.MaxValue - random.Next(2),
        _ => 1L << random.Next(63),
    };
}
