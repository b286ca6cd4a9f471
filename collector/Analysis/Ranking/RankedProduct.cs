using System.Globalization;

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

    /// <summary>Names of the specimens that count, by name.</summary>
    public required IReadOnlyList<string> Specimens { get; init; }

    /// <summary>Specimens that are not as claimed, so not this product; by name.</summary>
    public IReadOnlyList<string> LeftOut { get; init; } = [];

    /// <summary>Best rank among the products; 0 when no specimen counts.</summary>
    public int Best { get; init; }

    /// <summary>Worst rank among the products.</summary>
    public int Worst { get; init; }

    /// <summary>Group of products told apart from the next, from 1.</summary>
    public int Group { get; init; }

    /// <summary><see cref="Text"/> of the products that are surely better.</summary>
    public IReadOnlyList<string> SurelyBetter { get; init; } = [];

    /// <summary>Geometric mean of the specimens' composites.</summary>
    public double Composite { get; init; }

    /// <summary>Lower bound of its own 95 % interval.</summary>
    public double Low { get; init; }

    /// <summary>Upper bound.</summary>
    public double High { get; init; }

    /// <summary>Best over worst specimen, minus 1 (0.05 is 5 %); null for one specimen.</summary>
    public double? SpecimenSpread { get; init; }

    /// <summary>"one specimen", "3 specimens", "2 of 3 bought count: T-04 is not as claimed".</summary>
    public string SpecimensText => LeftOut.Count > 0
        ? string.Create(CultureInfo.InvariantCulture, $"{Specimens.Count} of {Specimens.Count + LeftOut.Count} bought count: {string.Join(", ", LeftOut)} {(LeftOut.Count == 1 ? "is" : "are")} not as claimed")
        : Specimens.Count == 1 ? "one specimen" : string.Create(CultureInfo.InvariantCulture, $"{Specimens.Count} specimens");

    /// <summary>True when every specimen is provisional.</summary>
    public bool IsProvisional { get; init; }

    /// <summary>Floors of the specimens together: decided where all agree.</summary>
    public FloorState Floors { get; init; }
}
