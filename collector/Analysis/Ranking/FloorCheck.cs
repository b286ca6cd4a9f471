using Cardassay.Trials;

namespace Cardassay.Collector.Analysis.Ranking;

/// <summary>One floor of one card.</summary>
/// <param name="Kind">Metric.</param>
/// <param name="Floor">The floor, in the unit of the metric.</param>
/// <param name="Low">Lower bound of the published interval.</param>
/// <param name="High">Upper bound.</param>
/// <param name="State">What follows.</param>
public readonly record struct FloorCheck(TrialKind Kind, double Floor, double Low, double High, FloorState State);
