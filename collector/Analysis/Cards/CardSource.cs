using Cardassay.Identity;

namespace Cardassay.Collector.Analysis.Cards;

/// <summary>What the master data hold of one card.</summary>
internal sealed record CardSource(string Name, string? Tag, Claim? Claim, IReadOnlyList<RunRecord> Runs, IReadOnlyList<HandKeptResult> HandKept)
{
    /// <summary>Collector the claim was told; "" for this one.</summary>
    public string ClaimOrigin { get; init; } = "";

    /// <summary>Stickers of other collectors that are on it.</summary>
    public IReadOnlyList<string> OtherStickers { get; init; } = [];

    /// <summary>What other collectors were told of it, which does not count.</summary>
    public IReadOnlyList<CollectorClaim> OtherClaims { get; init; } = [];
}
