using System.Globalization;
using Cardassay.Collector.Report.Model;
using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Collector.Report.Building;

/// <summary>The address space of a card as its proofs found it.</summary>
internal static class CapacityMapBuilder
{
    /// <summary>
    /// The map of the proof that says most: the newest that lost blocks, else the newest full one, else the newest sparse one, else the
    /// newest. Null without any.
    /// </summary>
    public static CapacityMap? Build(IReadOnlyList<ProofMeasured> proofs)
    {
        ProofMeasured? proof = proofs.LastOrDefault(p => p.Counts.Lost > 0)
            ?? proofs.LastOrDefault(p => p is { Complete: true, Kind: ProofKind.Full })
            ?? proofs.LastOrDefault(p => p is { Complete: true, Kind: ProofKind.Sparse })
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
            [.. proof.Ranges.Select(r => new CapacitySegment(r.StartBytes / length, r.EndBytes / length, Outcome(r.State), Text(r, proof.Kind)))])
        {
            Proof = proof,
        };
    }

    private static string Outcome(BlockState state) => state switch
    {
        BlockState.Kept => "kept",
        BlockState.Wrapped => "wrapped",
        BlockState.Unreadable => "unreadable",
        BlockState.NotProbed => "not probed",
        _ => "lost",
    };

    private static string Text(ProofRange range, ProofKind kind)
    {
        string what = range.State switch
        {
            BlockState.Kept => kind == ProofKind.Sparse ? "kept wherever it was probed" : "kept",
            BlockState.Wrapped => "wrapped: holds what was written to other addresses",
            BlockState.Dropped => "lost: holds what was there before",
            BlockState.Constant => "lost: one byte value all over",
            BlockState.Decayed => "lost: bits changed",
            BlockState.Unreadable => "unreadable",
            _ => "not probed",
        };
        return string.Create(CultureInfo.InvariantCulture, $"byte {range.StartBytes} to {range.EndBytes}: {what}");
    }
}
