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
        Assert.InRange(cliff.AfterBytes, 960_000_000 * 0.95, 960_000_000 * 1.05);
        Assert.InRange(cliff.BytesPerSecondBefore, 39e6, 41e6);
        Assert.InRange(cliff.BytesPerSecondAfter, 11.7e6, 12.3e6);
    }

    // The place within the bins follows from their time: a fall that is on no bin's edge and in the middle of a second is found to 1 %.
    [Theory]
    [InlineData(500_000_000, 90e6, 10e6)]
    [InlineData(1_234_567_890, 41.5e6, 17.3e6)]
    [InlineData(3_900_000_000, 25e6, 19e6)]
    public void Find_FallWithinABin_IsFoundMoreExactlyThanABin(long after, double fast, double slow)
    {
        Cliff cliff = CacheCliff.Find(Seconds(after, fast, slow, 6_000_000_000))!.Value;
        Assert.InRange(cliff.AfterBytes, after * 0.99, after * 1.01);
        Assert.InRange(cliff.BytesPerSecondBefore, fast * 0.99, fast * 1.01);
        Assert.InRange(cliff.BytesPerSecondAfter, slow * 0.99, slow * 1.01);
    }

    [Theory]
    [InlineData(0, 0)]
    [InlineData(700_000_000, 700_000_000)]
    [InlineData(2_000_000_000, 1_984_000_000)] // to half a bin at the end: 31 whole ones
    public void FastAgainBytes_PartOfTheLaterWrite_IsFound(long fast, long expected) =>
        Assert.Equal(expected, CacheCliff.FastAgainBytes(Seconds(fast, 40e6, 12e6, 2_000_000_000), new Cliff(960_000_000, 40e6, 12e6))!.Value, 10_000_000.0);

    [Fact]
    public void FastAgainBytes_RateOfItsOwn_IsNotSaid() =>
        Assert.Null(CacheCliff.FastAgainBytes(Seconds(0, 1, 22e6, 2_000_000_000), new Cliff(960_000_000, 40e6, 12e6)));

    private static List<TimelineSecond> Seconds(long fastBytes, double fast, double slow, long bytes)
    {
        var seconds = new List<TimelineSecond>();
        for (double written = 0; written < bytes;)
        {
            double inFast = Math.Clamp((fastBytes - written) / fast, 0, 1);
            double second = (inFast * fast) + ((1 - inFast) * slow);
            seconds.Add(new TimelineSecond(1, (long)second, 0));
            written += second;
        }

        seconds.Add(new TimelineSecond(1, 1, 0)); // the last one, which counts for nothing
        return seconds;
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
