using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Demo.Tests;

/// <summary>What the capacity proofs of the last night say, and that they agree with themselves.</summary>
public sealed class ProofTests
{
    public static TheoryData<string> Proven => [.. Tarrow24.ClaimsMade.Select(c => c.Tag).Where(t => Tarrow24.ProofOf(t) is not null)];

    [Fact]
    public void Proofs_WholeSet_AreSparseForMostFullForSomeAndLackingForTwo()
    {
        ProofKind?[] kinds = [.. Tarrow24.ClaimsMade.Select(c => Tarrow24.ProofOf(c.Tag)?.Kind)];
        Assert.Equal((19, 3, 2), (kinds.Count(k => k == ProofKind.Sparse), kinds.Count(k => k == ProofKind.Full), kinds.Count(k => k is null)));
    }

    [Theory]
    [MemberData(nameof(Proven))]
    public void Proof_OfEachCard_FindsNothingButInTheOverstatedOne(string tag)
    {
        ProofMeasured proof = Tarrow24.ProofOf(tag)!;
        CapacityProofSummary summary = CapacityProofSummary.Of([proof]);

        Assert.Equal(Tarrow24.CardOf(tag).DiskBytes, proof.ClaimedBytes);
        Assert.Equal(tag == "T-15", summary.OverstatementFound);
        Assert.Equal(tag == "T-15" ? 30_587_064_320 : null, summary.TrueBytes);
        Assert.Equal(proof.BlocksRead, proof.Counts.Kept + proof.Counts.Lost);
        Assert.Equal(0, proof.Ranges[0].StartBytes);
        Assert.Equal(proof.CoveredBytes, proof.Ranges[^1].EndBytes);
    }

    [Fact]
    public void LostBlocks_OfTheOverstatedCard_LieWholePeriodsFromWhatTheyHold()
    {
        ProofMeasured proof = Tarrow24.ProofOf("T-15")!;
        Assert.InRange(proof.Counts.Wrapped, 4, proof.BlocksRead / 2); // one multiple in the run for each time the addresses go round, and some by the eviction
        Assert.All(proof.LostBlocks, lost => Assert.Equal(0, (lost.OffsetBytes - lost.FoundOffsetBytes!.Value) % proof.AliasStepBytes));
        Assert.All(proof.LostBlocks, lost => Assert.NotEqual(lost.OffsetBytes, lost.FoundOffsetBytes));
    }

    [Theory]
    [MemberData(nameof(Proven))]
    public void Proof_OfEachCard_TookAsLongAsItsOwnSpeedAsksFor(string tag)
    {
        ProofMeasured proof = Tarrow24.ProofOf(tag)!;
        double write = (proof.BlocksWritten + proof.EvictionBlocks) * 4096e3 / proof.WriteNs;
        double read = proof.BlocksRead * 4096e3 / proof.ReadNs;
        Assert.InRange(write, 0.5, 1.1 * Tarrow24.MeasuredOf(tag, TrialKind.SequentialWrite).Max(Tarrow24.Figure));
        Assert.InRange(read, 0.5, 1.1 * Tarrow24.MeasuredOf(tag, TrialKind.SequentialRead).Max(Tarrow24.Figure));
    }
}
