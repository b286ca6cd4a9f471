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

    /// <summary>Bytes the card really stores, where the proof could tell; else null.</summary>
    public long? TrueBytes { get; init; }

    /// <summary>Upper bound (95 %) of the lost fraction after a sparse proof without a find, 0 to 1; null when it has no meaning.</summary>
    public double? LostFractionBelow { get; init; }
}
