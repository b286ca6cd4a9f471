namespace Cardassay.Identity;

/// <summary>How much a finding weighs.</summary>
public enum FindingSeverity
{
    /// <summary>Worth knowing; never changes a verdict.</summary>
    Note = 0,

    /// <summary>Makes the card doubtful until it is settled.</summary>
    Doubt = 1,

    /// <summary>The card is not what is claimed.</summary>
    Contradiction = 2,
}

/// <summary>One named value a finding compares.</summary>
/// <param name="Name">What it is, with its unit ("claimed capacity, GB").</param>
/// <param name="Value">The value as text, invariant culture.</param>
public readonly record struct FindingValue(string Name, string Value);

/// <summary>One piece of evidence.</summary>
public sealed record Finding
{
    /// <summary>Stable id of the rule, kebab-case ("capacity-against-label").</summary>
    public required string Id { get; init; }

    /// <summary>How much it weighs.</summary>
    public required FindingSeverity Severity { get; init; }

    /// <summary>One sentence a buyer understands.</summary>
    public required string Text { get; init; }

    /// <summary>The values compared.</summary>
    public IReadOnlyList<FindingValue> Values { get; init; } = [];

    /// <summary>Where the rule comes from: standard and section, kernel source, or "common practice, no source".</summary>
    public required string Source { get; init; }

    /// <summary>What would settle it, as a sentence; null when nothing is open.</summary>
    public string? Settles { get; init; }
}
