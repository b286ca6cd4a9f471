namespace Cardassay.Collector.Analysis.Ranking;

/// <summary>Whether a card reaches the floors of a profile.</summary>
public enum FloorState
{
    /// <summary>The lower bound of every floored metric reaches its floor (or there is no floor).</summary>
    Pass,

    /// <summary>At least one interval straddles its floor, or is only a range, and none fails.</summary>
    Undecided,

    /// <summary>The upper bound of at least one metric is below its floor.</summary>
    Fail,
}
