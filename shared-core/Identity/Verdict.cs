namespace Cardassay.Identity;

/// <summary>What is said of a card. Nothing is ever called "genuine".</summary>
public enum VerdictKind
{
    /// <summary>Too little is known to say more.</summary>
    NotProven = 0,

    /// <summary>Registers readable, claim made, whole address range proven and its judgeable marks met.</summary>
    AsClaimed = 1,

    /// <summary>As <see cref="AsClaimed"/>, but the capacity proof was a sparse one.</summary>
    AsClaimedSparselyProbed = 2,

    /// <summary>A doubt is open.</summary>
    Doubtful = 3,

    /// <summary>A contradiction was found.</summary>
    NotAsClaimed = 4,
}

/// <summary>A verdict and what is missing for a better one.</summary>
/// <param name="Kind">The verdict.</param>
/// <param name="Missing">Sentences; empty when nothing is missing.</param>
public sealed record Verdict(VerdictKind Kind, IReadOnlyList<string> Missing)
{
    /// <summary>
    /// What "sparsely probed" rests on: what the card keeps at the least, the bound and its assumption; null for any other verdict.
    /// </summary>
    public string? Basis { get; init; }

    /// <summary>
    /// The words used everywhere: "as claimed", "as claimed, sparsely probed", "doubtful", "not as claimed", "not proven".
    /// </summary>
    public string Words => Kind switch
    {
        VerdictKind.AsClaimed => "as claimed",
        VerdictKind.AsClaimedSparselyProbed => "as claimed, sparsely probed",
        VerdictKind.Doubtful => "doubtful",
        VerdictKind.NotAsClaimed => "not as claimed",
        _ => "not proven",
    };
}
