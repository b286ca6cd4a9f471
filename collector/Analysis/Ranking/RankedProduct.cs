namespace Cardassay.Collector.Analysis.Ranking;

/// <summary>A claimed product and capacity in a ranking table. A reader buys products, not specimens.</summary>
public sealed record RankedProduct
{
    /// <summary>Maker as claimed, or null.</summary>
    public string? Maker { get; init; }

    /// <summary>Product as claimed.</summary>
    public required string Product { get; init; }

    /// <summary>Label capacity, decimal GB, or null.</summary>
    public decimal? LabelGigabytes { get; init; }

    /// <summary>"Halvorn Terrace 64 GB".</summary>
    public required string Text { get; init; }

    /// <summary>Names of the specimens tested, by name.</summary>
    public required IReadOnlyList<string> Specimens { get; init; }

    /// <summary>Best rank among the products.</summary>
    public int Best { get; init; }

    /// <summary>Worst rank among the products.</summary>
    public int Worst { get; init; }

    /// <summary>Group of products told apart from the next; 0 when provisional.</summary>
    public int Group { get; init; }

    /// <summary>Median of the specimens' composites.</summary>
    public double Composite { get; init; }

    /// <summary>Least lower bound of its specimens.</summary>
    public double Low { get; init; }

    /// <summary>Greatest upper bound of its specimens.</summary>
    public double High { get; init; }

    /// <summary>Best over worst specimen, minus 1 (0.05 is 5 %); null for one specimen.</summary>
    public double? SpecimenSpread { get; init; }

    /// <summary>"one specimen", "3 specimens".</summary>
    public string SpecimensText => Specimens.Count == 1
        ? "one specimen"
        : string.Create(System.Globalization.CultureInfo.InvariantCulture, $"{Specimens.Count} specimens");

    /// <summary>True when every specimen is provisional.</summary>
    public bool IsProvisional { get; init; }

    /// <summary>Floors of the specimens together: fail when one fails, pass when all pass.</summary>
    public FloorState Floors { get; init; }
}
