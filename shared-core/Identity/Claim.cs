namespace Cardassay.Identity;

/// <summary>Whether a card was new when it was first tested. Used cards are never pooled with new ones.</summary>
public enum CardCondition
{
    /// <summary>Nobody said.</summary>
    Unknown = 0,

    /// <summary>Bought new, first used here.</summary>
    New = 1,

    /// <summary>Has an unknown past.</summary>
    Used = 2,
}

/// <summary>
/// What label, shop and user say of one card. Every member may be missing: null is "nobody said", never zero or "no".
/// </summary>
public sealed record Claim
{
    /// <summary>The sticker on the card.</summary>
    public required string Tag { get; init; }

    /// <summary>Maker as printed.</summary>
    public string? Maker { get; init; }

    /// <summary>Product name as printed.</summary>
    public string? Product { get; init; }

    /// <summary>Label capacity, decimal gigabytes (10^9 bytes), greater than 0.</summary>
    public decimal? LabelGigabytes { get; init; }

    /// <summary>
    /// Marks printed on the card, upper case, in the order given: C2 C4 C6 C10 U1 U3 V6 V10 V30 V60 V90 A1 A2. Null when nobody
    /// looked; empty when there are none.
    /// </summary>
    public IReadOnlyList<string>? Marks { get; init; }

    /// <summary>Read speed stated on label or in the shop, decimal MB/s.</summary>
    public double? StatedReadMegabytesPerSecond { get; init; }

    /// <summary>Write speed stated on label or in the shop, decimal MB/s.</summary>
    public double? StatedWriteMegabytesPerSecond { get; init; }

    /// <summary>Price paid, in <see cref="Currency"/>. Null is unknown, which is not free.</summary>
    public decimal? Price { get; init; }

    /// <summary>ISO 4217 code of the price.</summary>
    public string? Currency { get; init; }

    /// <summary>Day the price was paid or seen.</summary>
    public DateOnly? PriceDate { get; init; }

    /// <summary>Day the card was bought.</summary>
    public DateOnly? Purchased { get; init; }

    /// <summary>Where it was bought.</summary>
    public string? BoughtAt { get; init; }

    /// <summary>New or used.</summary>
    public CardCondition Condition { get; init; }

    /// <summary>
    /// True when the user vouches for this card: its registers teach what this claim should look like; false takes that back.
    /// </summary>
    public bool? IsReference { get; init; }

    /// <summary>True for made-up data (the demonstration).</summary>
    public bool? Invented { get; init; }
}
