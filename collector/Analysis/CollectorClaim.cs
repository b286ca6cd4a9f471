using Cardassay.Identity;

namespace Cardassay.Collector.Analysis;

/// <summary>What one collector was told of a card.</summary>
/// <param name="Collector">Its name; "" for this one.</param>
/// <param name="Claim">The claim, whole.</param>
public sealed record CollectorClaim(string Collector, Claim Claim)
{
    /// <summary>True when two claims both say something of the maker, the product or the capacity, and not the same.</summary>
    public static bool Contradict(Claim? one, Claim? other) => one is not null && other is not null
        && (Differ(one.Maker, other.Maker) || Differ(one.Product, other.Product) || (one.LabelGigabytes is { } a && other.LabelGigabytes is { } b && a != b));

    private static bool Differ(string? one, string? other) =>
        one is not null && other is not null && !string.Equals(one.Trim(), other.Trim(), StringComparison.OrdinalIgnoreCase);
}
