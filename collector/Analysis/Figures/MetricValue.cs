using Cardassay.Trials;

namespace Cardassay.Collector.Analysis.Figures;

/// <summary>One figure and where it comes from.</summary>
/// <param name="Value">In the unit of the metric.</param>
/// <param name="Record">Record of the trial.</param>
/// <param name="Run">Run of the trial.</param>
/// <param name="Board">Board that measured it.</param>
/// <param name="Night">Night it counts for.</param>
/// <param name="Repetition">Repetition within the run, from 1.</param>
/// <param name="IsOutlier">Flagged by the modified z-score or generalised ESD; kept in the pool all the same.</param>
public readonly record struct MetricValue(
    double Value, RecordKey Record, RunId Run, string Board, DateOnly Night, int Repetition, bool IsOutlier = false);
