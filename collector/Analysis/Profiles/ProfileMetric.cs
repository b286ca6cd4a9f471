using Cardassay.Trials;

namespace Cardassay.Collector.Analysis.Profiles;

/// <summary>One metric of a profile.</summary>
/// <param name="Kind">Which trial kind.</param>
/// <param name="Weight">Share in the composite, above 0; the weights of a profile add up to 1.</param>
/// <param name="Reference">Figure that counts as 1, in the unit of the metric, above 0.</param>
/// <param name="Floor">Figure the lower interval bound must reach, or null for none.</param>
/// <param name="BlockBytes">Bytes of one operation, or null for the block most cards of the table have.</param>
/// <param name="QueueDepth">Operations in flight, or null for the depth most cards of the table have.</param>
/// <param name="Enough">Figure beyond which more does not count, in the unit of the metric, or null for none.</param>
public sealed record ProfileMetric(
    TrialKind Kind, double Weight, double Reference, double? Floor = null, long? BlockBytes = null, int? QueueDepth = null, double? Enough = null);
