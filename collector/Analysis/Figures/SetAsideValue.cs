using Cardassay.Trials;

namespace Cardassay.Collector.Analysis.Figures;

/// <summary>A figure that is shown and not pooled.</summary>
/// <param name="Kind">Trial kind.</param>
/// <param name="Value">The figure and where it comes from.</param>
/// <param name="Rule">The rule that sets it aside.</param>
/// <param name="Reasons">What the board said of it (invalid trials), else empty.</param>
public sealed record SetAsideValue(TrialKind Kind, MetricValue Value, SetAsideRule Rule, IReadOnlyList<string> Reasons);
