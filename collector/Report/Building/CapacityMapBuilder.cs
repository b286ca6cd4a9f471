using System.Globalization;
using Cardassay.Collector.Report.Model;
using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Collector.Report.Building;

/// <summary>The address space of a card as its proofs found it.</summary>
internal static class CapacityMapBuilder
{
    /// <summary>
    /// The map of the proof that says most: the newest that shows an overstatement, else a defect, else the newest clean full one, else the newest
    /// clean sparse one, else the newest. Null without any.
    /// </summary>
    public static CapacityMap? Build(IReadOnlyList<ProofMeasured> proofs)
    {
        ProofMeasured? proof = Newest(proofs, (_, judgement) => judgement.Word == ProofWord.Overstated)
            ?? Newest(proofs, (_, judgement) => judgement.Word == ProofWord.Defective)
            ?? Newest(proofs, (_, judgement) => judgement is { Word: ProofWord.NoOverstatementFound, IsWhole: true })
            ?? Newest(proofs, (p, judgement) => judgement.Word == ProofWord.NoOverstatementFound && p.Kind == ProofKind.Sparse)
            ?? proofs.LastOrDefault();
        if (proof is null)
        {
            return null;
        }

        // The scratch file of a folder has no known place on the card.
        double length = Math.Max(1, proof.Kind == ProofKind.FreeSpace ? proof.CoveredBytes : proof.ClaimedBytes);
        return new CapacityMap(
            Figure.Of(proof.ClaimedBytes / 1e9, 2),
            ProofFindings.Statement(proof),
            [.. proof.Ranges.Select(r => new CapacitySegment(r.StartBytes / length, r.EndBytes / length, Outcome(r.State, proof.Kind), Text(r, proof.Kind)))])
        {
            Proof = proof,
        };
    }

    private static ProofMeasured? Newest(IReadOnlyList<ProofMeasured> proofs, Func<ProofMeasured, ProofJudgement, bool> which) =>
        proofs.LastOrDefault(p => which(p, ProofJudgement.Of(p)));

    private static string Outcome(BlockState state, ProofKind kind) => state switch
    {
        BlockState.Kept => kind == ProofKind.Sparse ? "kept where sampled" : "kept",
        BlockState.Wrapped => "wrapped",
        BlockState.Unreadable => "unreadable",
        BlockState.NotProbed => "not probed",
        BlockState.NotJudged => "not judged",
        _ => "lost",
    };

    private static string Text(ProofRange range, ProofKind kind)
    {
        string what = range.State switch
        {
            BlockState.Kept => kind == ProofKind.Sparse ? "kept where sampled" : "kept",
            BlockState.Wrapped => "wrapped: holds what was written to other addresses",
            BlockState.Dropped => "lost: holds what was there before",
            BlockState.Constant => "lost: one byte value all over",
            BlockState.Decayed => "lost: bits changed",
            BlockState.Unreadable => "unreadable",
            BlockState.NotJudged => "not judged: its write was refused, the link erred or the device was away",
            _ => "not probed",
        };
        return string.Create(CultureInfo.InvariantCulture, $"byte {range.StartBytes} to {range.EndBytes}: {what}");
    }
}
