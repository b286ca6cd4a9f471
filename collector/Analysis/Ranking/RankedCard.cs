namespace Cardassay.Collector.Analysis.Ranking;

/// <summary>A card in a ranking table.</summary>
public sealed record RankedCard
{
    /// <summary><see cref="CardResult.Name"/>.</summary>
    public required string Name { get; init; }

    /// <summary>Tag, or null.</summary>
    public string? Tag { get; init; }

    /// <summary>Best rank it can hold, from 1.</summary>
    public int Best { get; init; }

    /// <summary>Worst rank it can hold.</summary>
    public int Worst { get; init; }

    /// <summary>Group of cards told apart from the next group, from 1.</summary>
    public int Group { get; init; }

    /// <summary>Part of the laboratory it was measured in, from 1: between two parts no order is known. 0 when it belongs to none.</summary>
    public int Part { get; init; }

    /// <summary>Composite of its levels on the middle of the boards; 1 is the reference.</summary>
    public double Composite { get; init; }

    /// <summary>Lower bound of its own 95 % interval; the composite where none is known.</summary>
    public double Low { get; init; }

    /// <summary>Upper bound.</summary>
    public double High { get; init; }

    /// <summary>False when nothing is known of how far its figures scatter.</summary>
    public bool HasInterval { get; init; }

    /// <summary>Runs behind it (the least of its metrics).</summary>
    public int Runs { get; init; }

    /// <summary>Nights these runs were made in.</summary>
    public int Nights { get; init; }

    /// <summary>Boards these runs were made on.</summary>
    public int Boards { get; init; }

    /// <summary>Level of each metric in the order of the profile, in its unit.</summary>
    public IReadOnlyList<double> Figures { get; init; } = [];

    /// <summary>The profile's floors together.</summary>
    public FloorState Floors { get; init; }

    /// <summary>Each floor.</summary>
    public IReadOnlyList<FloorCheck> FloorChecks { get; init; } = [];

    /// <summary>True with fewer than three runs, or runs of one night only: a mark, the rank interval holds all the same.</summary>
    public bool IsProvisional { get; init; }

    /// <summary>True when it rests on a figure written down by hand; always provisional too.</summary>
    public bool IsHandKept { get; init; }

    /// <summary>Best rank of its point value under 1,000 draws of the weights.</summary>
    public int SensitivityBest { get; init; }

    /// <summary>Worst rank of its point value under the same draws.</summary>
    public int SensitivityWorst { get; init; }
}
