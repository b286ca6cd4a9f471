using Cardassay.Collector.Analysis.Figures;

namespace Cardassay.Collector.Analysis.CrossChecks;

/// <summary>Repeatability and reproducibility of a metric over boards (ISO 5725-2), on logarithms and given in percent.</summary>
/// <param name="Key">Metric and context (card state left aside).</param>
/// <param name="Boards">Boards, at least 3.</param>
/// <param name="RepeatabilityPercent">Two results on one board differ by less in 95 % of cases.</param>
/// <param name="ReproducibilityPercent">Two results on two boards differ by less in 95 % of cases.</param>
public sealed record BoardPrecision(ComparabilityKey Key, int Boards, double RepeatabilityPercent, double ReproducibilityPercent);
