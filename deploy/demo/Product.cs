namespace Cardassay.Demo;

/// <summary>What a shop on Tarrow sells: what is printed on the card, what is said of it, and what an honest one holds.</summary>
internal sealed record Product
{
    /// <summary>Maker as printed.</summary>
    public required string Maker { get; init; }

    /// <summary>Product name as printed.</summary>
    public required string Name { get; init; }

    /// <summary>Label capacity, decimal gigabytes.</summary>
    public required int LabelGigabytes { get; init; }

    /// <summary>Marks printed on the card.</summary>
    public required IReadOnlyList<string> Marks { get; init; }

    /// <summary>Read speed stated in the shop, decimal MB/s; null when nothing is stated.</summary>
    public int? StatedReadMegabytes { get; init; }

    /// <summary>Write speed stated in the shop, decimal MB/s; null when nothing is stated.</summary>
    public int? StatedWriteMegabytes { get; init; }

    /// <summary>Price in the currency reserved for tests (ISO 4217 XTS).</summary>
    public required decimal Price { get; init; }

    /// <summary>What an honest card of this product holds.</summary>
    public required Silicon Silicon { get; init; }
}
