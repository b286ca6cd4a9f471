using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Tests.Identity;

public sealed class ProofJudgementTests
{
    private const long Blocks = 1_000_000;
    private const long Claimed = Blocks * ProofMeasured.BlockBytes;

    private static readonly ProofMeasured Full = new()
    {
        RunId = new RunId(Guid.Empty), Complete = true, Kind = ProofKind.Full, ClaimedBytes = Claimed, CoveredBytes = Claimed, BlocksRead = Blocks,
        Finding = ProofFinding.NoneFound, Counts = new BlockCounts(Blocks, 0, 0, 0, 0, 0),
    };

    public static TheoryData<string, ProofWord> Table => new()
    {
        { "clean", ProofWord.NoOverstatementFound },
        { "cut off", ProofWord.NotJudged },
        { "cut off with losses", ProofWord.NotJudged },
        { "not judged blocks", ProofWord.NotJudged },
        { "one bad block", ProofWord.Defective },
        { "the last block bad", ProofWord.Defective },
        { "a mebibyte lost at the end", ProofWord.Overstated },
        { "the same in a folder", ProofWord.Defective },
        { "just below one per cent", ProofWord.Defective },
        { "one per cent", ProofWord.Overstated },
        { "every block with flipped bits", ProofWord.Defective },
        { "two per cent not read again", ProofWord.NotJudged },
        { "period not read again", ProofWord.Overstated },
        { "bad and not judged blocks", ProofWord.Defective },
    };

    [Theory]
    [MemberData(nameof(Table))]
    public void Of_EveryCase_GivesTheWordOfTheContract(string name, ProofWord word) => Assert.Equal(word, ProofJudgement.Of(Case(name)).Word);

    // Clopper and Pearson's one-sided lower bound is a quantile of the beta distribution, B(0.05; k, n - k + 1); for k = n it is 0.05^(1/n), and for
    // n = 20, k = 5 tables give 0.1041 (for example Documenta Geigy, binomial confidence limits, 2.5 % and 5 %; from memory).
    [Theory]
    [InlineData(0, 299, 0)]
    [InlineData(1, 1, 0.05)]
    [InlineData(3, 3, 0.36840)]
    [InlineData(5, 20, 0.10408)]
    [InlineData(1, 299, 0.0001715)] // 1 - 0.95^(1/299)
    public void Lower_KnownBounds_AreMet(long found, long samples, double expected) => Assert.Equal(expected, BinomialBound.Lower(found, samples), 4);

    [Theory]
    [InlineData(6, ProofWord.Defective)]
    [InlineData(7, ProofWord.Overstated)]
    public void Of_ScatteredLossInASparseProof_NeedsTheLowerBoundAtOnePerCent(long lost, ProofWord word)
    {
        // P(X >= 6 | 299, 0.01) = 8.4 % and P(X >= 7) = 3.4 % (Poisson 2.99 gives 8.3 and 3.3 %).
        ProofMeasured sparse = Full with
        {
            Kind = ProofKind.Sparse, BlocksRead = 80_000, RandomProbes = 299, RandomLost = lost, Finding = ProofFinding.Scattered,
            Counts = new BlockCounts(80_000 - lost, 0, lost, 0, 0, 0), ReadAgainAfterNs = 5_000_000_000,
        };
        Assert.Equal(word, ProofJudgement.Of(sparse).Word);

        // The bound upwards is above 1 % in both cases, so that not even the milder word may acquit the claim.
        Assert.InRange(ProofJudgement.Of(sparse).LostFractionAtMost, 0.03, 0.05);
        Assert.DoesNotContain("says nothing of the claimed size", ProofFindings.Statement(sparse), StringComparison.Ordinal);
        Assert.DoesNotContain("says nothing of the claimed size", ProofFindings.Of(sparse)[0].Text, StringComparison.Ordinal);
    }

    // B(0.95; k + 1, n - k): of none among n it is 1 - 0.05^(1/n), of all 1.
    [Theory]
    [InlineData(0, 299, 0.009969)]
    [InlineData(0, 1, 0.95)]
    [InlineData(3, 3, 1)]
    [InlineData(15, 20, 0.89592)] // the mirror of 5 of 20 above
    public void Upper_KnownBounds_AreMet(long found, long samples, double expected) => Assert.Equal(expected, BinomialBound.Upper(found, samples), 4);

    [Fact]
    public void Of_TrueBytes_AreOnlyStatedOfAnOverstatedCard()
    {
        Assert.Null(ProofJudgement.Of(Case("one bad block") with { TrueBytes = Claimed - 4096 }).TrueBytes);
        Assert.Equal(5, ProofJudgement.Of(Case("period not read again") with { TrueBytes = 5, AliasStepBytes = 5 }).TrueBytes);
    }

    [Fact]
    public void Of_RecordOfAnEarlierVersion_KeepsAtLeastWhatItReadRight() =>
        Assert.Equal(8500 * 4096, ProofJudgement.Of(Full with { Kind = ProofKind.Sparse, BlocksRead = 8500, Counts = new BlockCounts(8500, 0, 0, 0, 0, 0) }).KeepsAtLeastBytes);

    private static ProofMeasured Lost(long unreadable) => Full with
    {
        Finding = ProofFinding.Unreadable, Counts = new BlockCounts(Blocks - unreadable, 0, 0, 0, 0, unreadable), ReadAgainAfterNs = 5_000_000_000,
    };

    private static ProofMeasured Case(string name) => name switch
    {
        "clean" => Full,
        "cut off" => Full with { Complete = false, Finding = ProofFinding.Unknown },
        "cut off with losses" => Lost(500_000) with { Complete = false, Finding = ProofFinding.Unknown },
        "not judged blocks" => Full with { Finding = ProofFinding.Unknown, Counts = new BlockCounts(Blocks - 400_000, 0, 0, 0, 0, 0, 400_000), LinkSuspectBlocks = 400_000 },
        "one bad block" => Lost(1),
        "the last block bad" => Lost(1) with { LostToEndFromBytes = Claimed - 4096 },
        "a mebibyte lost at the end" => Lost(256) with { LostToEndFromBytes = Claimed - (1 << 20) },
        "the same in a folder" => Lost(256) with { LostToEndFromBytes = Claimed - (1 << 20), Kind = ProofKind.FreeSpace },
        "just below one per cent" => Lost((Blocks / 100) - 1),
        "one per cent" => Lost(Blocks / 100),
        "every block with flipped bits" => Full with { Finding = ProofFinding.Scattered, Counts = new BlockCounts(0, 0, 0, 0, Blocks, 0), ReadAgainAfterNs = 1 },
        "two per cent not read again" => Lost(Blocks / 50) with { ReadAgainAfterNs = null },
        "period not read again" => Lost(0) with { Finding = ProofFinding.Wrap, Counts = new BlockCounts(10, 10, 0, 0, 0, 0), TrueBytes = 1 << 30, AliasStepBytes = 1 << 30, ReadAgainAfterNs = null },
        "bad and not judged blocks" => Lost(3) with { Counts = new BlockCounts(1, 0, 0, 0, 0, 3, 900) },
        _ => throw new ArgumentOutOfRangeException(nameof(name)),
    };
}
