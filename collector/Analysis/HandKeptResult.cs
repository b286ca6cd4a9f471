using Cardassay.Trials;

namespace Cardassay.Collector.Analysis;

/// <summary>A single figure written down by hand before there was a journal. It ranks as provisional, with the interval of one repetition on a board nobody knows.</summary>
public sealed record HandKeptResult
{
    /// <summary>Name of the card it belongs to (its tag).</summary>
    public required string Tag { get; init; }

    /// <summary>What was measured.</summary>
    public required TrialKind Kind { get; init; }

    /// <summary>The figure, in the unit of the metric (<see cref="TrialFigure.UnitOf"/>).</summary>
    public required double Value { get; init; }

    /// <summary>Where it comes from, as the import recorded it ("results.csv line 12").</summary>
    public required string Provenance { get; init; }

    /// <summary>Collector it was kept at; "" for this one.</summary>
    public string Origin { get; init; } = "";

    /// <summary>Day it was written down, or null.</summary>
    public DateOnly? Day { get; init; }
}
