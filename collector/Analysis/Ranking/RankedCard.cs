namespace Cardassay.Collector.Analysis.Ranking;

/// <summary>A card in a ranking table.</summary>
public sealed record RankedCard
{
    /// <summary><see cref="CardResult.Name"/>.</summary>
    public required string Name { get; init; }

    /// <summary>Tag, or null.</summary>
    public string? Tag { get; init; }

    /// <summary>Best rank it can hold, from 1. For a provisional card: among the firm cards, and outside the joint statement.</summary>
    public int Best { get; init; }

    /// <summary>Worst rank it can hold.</summary>
    public int Worst { get; init; }

    /// <summary>Group of cards told apart from the next group, from 1; 0 for a provisional card.</summary>
    public int Group { get; init; }

    /// <summary>Median of the composites of its repetitions; 1 is the reference.</summary>
    public double Composite { get; init; }

    /// <summary>Lower bound at <see cref="Level"/>.</summary>
    public double Low { get; init; }

    /// <summary>Upper bound at <see cref="Level"/>.</summary>
    public double High { get; init; }

    /// <summary>Exact level of the bounds: simultaneous for a firm card, that of the range for a provisional one.</summary>
    public double Level { get; init; }

    /// <summary>Complete repetitions behind it (the least n of its metrics).</summary>
    public int N { get; init; }

    /// <summary>Composite of each complete repetition, in order of measurement.</summary>
    public IReadOnlyList<double> Repetitions { get; init; } = [];

    /// <summary>Median of each metric in the order of the profile, in its unit.</summary>
    public IReadOnlyList<double> Figures { get; init; } = [];

    /// <summary>The profile's floors together.</summary>
    public FloorState Floors { get; init; }

    /// <summary>Each floor.</summary>
    public IReadOnlyList<FloorCheck> FloorChecks { get; init; } = [];

    /// <summary>True when it has too few repetitions for the joint statement.</summary>
    public bool IsProvisional { get; init; }

    /// <summary>True when it rests on a figure written down by hand; always provisional too.</summary>
    public bool IsHandKept { get; init; }

    /// <summary>Best rank of its point value under 1,000 draws of the weights.</summary>
    public int SensitivityBest { get; init; }

    /// <summary>Worst rank of its point value under the same draws.</summary>
    public int SensitivityWorst { get; init; }
}
