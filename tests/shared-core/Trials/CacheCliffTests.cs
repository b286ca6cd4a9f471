using Cardassay.Trials;

namespace Cardassay.SharedCore.Tests.Trials;

public sealed class CacheCliffTests
{
    // A write of 40 MB/s that falls to 12 MB/s after 960 MB, with 5 % noise from a seed.
    [Fact]
    public void Find_FastThenSlow_FindsWhereAndHowMuch()
    {
        var random = new Random(3);
        var seconds = new List<TimelineSecond>();
        for (long written = 0; written < 2_000_000_000;)
        {
            long bytes = (long)((written < 960_000_000 ? 40e6 : 12e6) * (0.95 + (random.NextDouble() / 10)));
            seconds.Add(new TimelineSecond(1, bytes, 0));
            written += bytes;
        }

        Cliff cliff = CacheCliff.Find(seconds)!.Value;
        Assert.InRange(cliff.AfterBytes, 896_000_000, 1_024_000_000);
        Assert.InRange(cliff.BytesPerSecondBefore, 37e6, 42e6);
        Assert.InRange(cliff.BytesPerSecondAfter, 11e6, 13e6);
    }

    [Theory]
    [InlineData(0.0)]
    [InlineData(0.6)]
    public void Find_NoFall_IsNone(double noise)
    {
        var random = new Random(4);
        TimelineSecond[] seconds = [.. Enumerable.Range(0, 100).Select(_ => new TimelineSecond(1, (long)(30e6 * (1 + (noise * (random.NextDouble() - 0.5)))), 0))];
        Assert.Null(CacheCliff.Find(seconds));
    }

    [Fact]
    public void Find_TooShort_IsNone() => Assert.Null(CacheCliff.Find([new(1, 40_000_000, 0), new(1, 10_000_000, 0)]));
}
