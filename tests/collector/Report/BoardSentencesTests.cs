using Cardassay.Collector.Analysis.CrossChecks;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Report.Building;
using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Collector.Tests.Report;

/// <summary>A board is called surely slower only where each of its differences is (p at most 0.01 over all pairs, METHOD rule 9).</summary>
public sealed class BoardSentencesTests
{
    private static readonly ComparabilityKey Key = new(
        TrialKind.RandomRead, 4096, 1, new MeasuringContext("overnight", "2", TargetKind.Device, null, Attachment.Slot, "sd uhs SDR104", CardCondition.Unknown));

    [Fact]
    public void Of_SlowerThanEveryOtherForCertain_NamesTheBoard() =>
        Assert.StartsWith("c is surely slower than every other board, by 2.0 to 2.5 %", Assert.Single(BoardSentences.Of([Pair("a", -2, 0.001), Pair("b", -2.5, 0.01)], [])), StringComparison.Ordinal);

    [Fact]
    public void Of_OneDifferenceIsNotCertain_NamesNoneAndCallsNoneEqual() => Assert.Equal(
        "No two boards were shown to differ by 3 % or more, which does not show them equal.",
        Assert.Single(BoardSentences.Of([Pair("a", -2, 0.001), Pair("b", -2.5, 0.011)], [])));

    [Fact]
    public void Of_ThreePercentOrMore_IsToldOfThePair() => Assert.Equal(
        "c is slower than a by 3.1 %. Every ranking has it taken out.", Assert.Single(BoardSentences.Of([Pair("a", -3.1, 0.001), Pair("b", -2.5, 0.001)], [])));

    private static BoardPair Pair(string faster, double percent, double p) => new("c", faster, Key, 4, percent, percent, "all metrics together", p, 3);
}
