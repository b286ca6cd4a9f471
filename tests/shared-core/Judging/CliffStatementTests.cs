using Cardassay.Judging;
using Cardassay.Trials;

namespace Cardassay.SharedCore.Tests.Judging;

public sealed class CliffStatementTests
{
    private const string Found = "A long write of 4.00 GB was fast for the first 1.00 GB, 40.0 MB/s, and 10.0 MB/s from there on.";

    [Fact]
    public void Of_FastPart_IsSaidWithItsRates() => Assert.Equal(Found, CliffStatement.Of(Write((25, 40), (300, 10)), null, null));

    [Theory]
    [InlineData(10, 40, 40, 10, "After a rest of 120 s the first 0.40 GB of 0.80 GB more were fast again.")]
    [InlineData(1, 10, 79, 10, "After a rest of 120 s none of 0.80 GB more was fast again.")]
    [InlineData(1, 40, 19, 40, "After a rest of 120 s all of 0.80 GB more was fast again.")]
    [InlineData(20, 20, 20, 20, "After a rest of 120 s 0.80 GB more came at 20.0 MB/s, neither the one rate nor the other.")]
    public void Of_Recovery_IsSaidAsItWas(int seconds, int rate, int moreSeconds, int moreRate, string expected) =>
        Assert.Equal($"{Found} {expected}", CliffStatement.Of(Write((25, 40), (300, 10)), Write((seconds, rate), (moreSeconds, moreRate)), 120));

    [Fact]
    public void Of_OneLevel_ClaimsNoMoreThanWasMeasured() => Assert.Equal(
        "A long write of 4.00 GB at 20.0 MB/s shows no lasting fall: a fast part of less than 0.19 GB, or of more than was written, would not show. After a rest 0.20 GB more came at 20.0 MB/s.",
        CliffStatement.Of(Write((200, 20)), Write((10, 20)), null));

    private static TrialMeasured Write(params (int Seconds, int Megabytes)[] parts)
    {
        TimelineSecond[] timeline = [.. parts.SelectMany(p => Enumerable.Repeat(new TimelineSecond(1, p.Megabytes * 1_000_000L, 0), p.Seconds))];
        return new TrialMeasured
        {
            RunId = new RunId(Guid.Empty), Latency = new LatencyHistogram(), Kind = TrialKind.Cliff, Timeline = timeline, Bytes = timeline.Sum(s => s.Bytes),
            ElapsedNs = timeline.Length * 1_000_000_000L,
        };
    }
}
