using Cardassay.Trials;

namespace Cardassay.Identity;

/// <summary>How much of the address range a capacity proof covered.</summary>
public enum CapacityProofKind
{
    /// <summary>There was none, or none that ended.</summary>
    None = 0,

    /// <summary>Probes spread over the range: certain for wrapping addresses, a bound for anything else.</summary>
    Sparse = 1,

    /// <summary>Every block written, then every block read back.</summary>
    Full = 2,
}

/// <summary>What the capacity proofs of a card come to. Made by whoever looks at the proofs.</summary>
public sealed record CapacityProofSummary
{
    /// <summary>The strongest proof that ended.</summary>
    public CapacityProofKind Kind { get; init; }

    /// <summary>True when any proof found blocks the card states but does not store.</summary>
    public bool OverstatementFound { get; init; }

    /// <summary>
    /// True when a proof lost blocks in a way that may not be the card's: the link counted errors meanwhile, or the proof was taken up again
    /// after an interruption in which something else may have written.
    /// </summary>
    public bool LossInDoubt { get; init; }

    /// <summary>How the loss looks; <see cref="ProofFinding.Unknown"/> without one.</summary>
    public ProofFinding Finding { get; init; }

    /// <summary>Bytes the card really stores, where the proof could tell; else null.</summary>
    public long? TrueBytes { get; init; }

    /// <summary>Upper bound (95 %) of the lost fraction after a sparse proof without a find, 0 to 1; null when it has no meaning.</summary>
    public double? LostFractionBelow { get; init; }

    /// <summary>A loss smaller than this part may come from whatever wrote to the card while a proof was interrupted.</summary>
    private const double SmallLoss = 0.05;

    /// <summary>Sums up the proofs of one card.</summary>
    /// <param name="proofs">The last record of each proof, oldest first.</param>
    public static CapacityProofSummary Of(IReadOnlyList<ProofMeasured> proofs)
    {
        ProofMeasured[] lossy = [.. proofs.Where(p => p.Counts.Lost > 0)];
        ProofMeasured[] certain = [.. lossy.Where(p => !IsInDoubt(p))];
        ProofMeasured[] clean = [.. proofs.Where(p => p is { Complete: true, Finding: ProofFinding.NoneFound })];
        CapacityProofKind kind = clean.Any(p => p.Kind == ProofKind.Full) ? CapacityProofKind.Full
            : clean.Any(p => p.Kind == ProofKind.Sparse) ? CapacityProofKind.Sparse : CapacityProofKind.None;
        return new CapacityProofSummary
        {
            Kind = kind,
            OverstatementFound = certain.Length > 0,
            LossInDoubt = lossy.Length > certain.Length,
            Finding = (certain.LastOrDefault() ?? lossy.LastOrDefault())?.Finding ?? ProofFinding.Unknown,
            TrueBytes = certain.LastOrDefault(p => p.TrueBytes is not null)?.TrueBytes,
            LostFractionBelow = kind == CapacityProofKind.Sparse ? clean.Min(p => p.LostFractionBelow) : null,
        };
    }

    private static bool IsInDoubt(ProofMeasured proof) =>
        proof.LinkSuspectBlocks >= proof.Counts.Lost
        || (proof.ResumedAtBytes is { } resumedAt
            && proof.Counts.Wrapped == 0
            && proof.Counts.Lost * ProofMeasured.BlockBytes < SmallLoss * proof.CoveredBytes
            && proof.Ranges.Where(r => r.State is not (BlockState.Kept or BlockState.NotProbed)).All(r => r.EndBytes <= resumedAt));
}
