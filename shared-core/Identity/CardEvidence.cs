namespace Cardassay.Identity;

/// <summary>Everything a card is judged by. Missing parts only silence the rules that need them.</summary>
public sealed record CardEvidence
{
    /// <summary>What the card says of itself.</summary>
    public required CardRegisters Registers { get; init; }

    /// <summary>What is claimed of it, all statements merged; null when nobody said anything.</summary>
    public Claim? Claim { get; init; }

    /// <summary>
    /// Today by the collector's clock, or in a preview by the board's if that can be right; null when there is no clock to trust.
    /// </summary>
    public DateOnly? Today { get; init; }

    /// <summary>Reference cards of the same claim. The card itself is skipped if it is among them.</summary>
    public IReadOnlyList<CardRegisters> References { get; init; } = [];

    /// <summary>All sightings of this identity on any board under any tag, those of this card included.</summary>
    public IReadOnlyList<IdentitySighting> Sightings { get; init; } = [];

    /// <summary>Identities seen under this card's tag before.</summary>
    public IReadOnlyList<CardIdentity> EarlierIdentities { get; init; } = [];

    /// <summary>What the capacity proofs came to.</summary>
    public CapacityProofSummary Proof { get; init; } = new();

    /// <summary>What the trials say of the marks.</summary>
    public IReadOnlyList<MarkJudgement> Marks { get; init; } = [];
}
