using Cardassay.Judging;
using Cardassay.Trials;

namespace Cardassay.SharedCore.Tests.Judging;

public sealed class AddressRangeTests
{
    private const long Gib = 1L << 30;

    [Theory]
    [InlineData(0, 64L << 20, 32 * Gib, false, "first 64 MiB")]
    [InlineData(0, Gib, 32 * Gib, false, "first 1 GiB")]
    [InlineData(0, Gib, 2 * Gib, false, "first 1 GiB, about 50 % of the card")]
    [InlineData(4 * Gib, Gib, 32 * Gib, false, "1 GiB from 4 GiB on")]
    [InlineData(4 * Gib, Gib, 32 * Gib, true, "1 GiB that move from run to run")]
    [InlineData(0, 32 * Gib, 32 * Gib, false, "whole card")]
    [InlineData(0, 31 * Gib, 32 * Gib, false, "whole card")]
    [InlineData(0, Gib, 0, false, "first 1 GiB")]
    [InlineData(0, 0, 32 * Gib, false, "")]
    public void Of_Range_IsTheSameForWhatMayBePooled(long start, long length, long card, bool moves, string text) =>
        Assert.Equal(text, AddressRange.Of(Trial() with { RangeStartBytes = start, RangeBytes = length, RangeMoves = moves }, card).Text);

    [Theory]
    [InlineData(16 * Gib, 32 * Gib, "about 50 % of the card")]
    [InlineData(16 * Gib, 1024 * Gib, "less than 5 % of the card")]
    [InlineData(16 * Gib, 0, "")]
    public void Of_LongWrite_IsTheShareWhereverItLies(long length, long card, string text) =>
        Assert.Equal(text, AddressRange.Of(Trial() with { Kind = TrialKind.Cliff, RangeStartBytes = 3 * Gib, RangeBytes = length, RangeMoves = true }, card).Text);

    [Fact]
    public void Of_WholeCardsOfTwoSizes_AreOneRange() => Assert.Equal(
        AddressRange.Of(Trial() with { RangeBytes = 8 * Gib }, 8 * Gib), AddressRange.Of(Trial() with { RangeBytes = 128 * Gib }, 128 * Gib));

    [Theory]
    [InlineData(null, null, CardFill.NotMeasured)]
    [InlineData(0L, null, CardFill.HardlyWritten)]
    [InlineData(3 * Gib, null, CardFill.HardlyWritten)]
    [InlineData(4 * Gib, null, CardFill.PartlyWritten)]
    [InlineData(32 * Gib, 0L, CardFill.WrittenWhole)]
    [InlineData(32 * Gib, 32 * Gib, CardFill.WrittenOver)]
    public void Of_Fill_IsWhatWasMeasured(long? filled, long? sinceWhole, CardFill fill) =>
        Assert.Equal(fill, CardFills.Of(Trial() with { FilledBytes = filled, SinceWholeBytes = sinceWhole }, 32 * Gib));

    private static TrialMeasured Trial() => new() { RunId = new RunId(Guid.Empty), Kind = TrialKind.RandomRead, Latency = new LatencyHistogram() };
}
