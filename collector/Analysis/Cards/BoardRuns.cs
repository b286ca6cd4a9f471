using Cardassay.Collector.Analysis.Figures;

namespace Cardassay.Collector.Analysis.Cards;

/// <summary>Runs of one card and key, as logarithms of their medians.</summary>
/// <param name="Key">Key.</param>
/// <param name="Runs">Board, record and logarithm of the median of each run, in order of measurement.</param>
internal sealed record BoardRuns(ComparabilityKey Key, IReadOnlyList<(string Board, RecordKey Record, double Log)> Runs);
