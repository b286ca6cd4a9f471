using Cardassay.Collector.Analysis.Figures;

namespace Cardassay.Collector.Analysis.CrossChecks;

/// <summary>How much faster or slower a board measures the same cards.</summary>
/// <param name="Board">Board.</param>
/// <param name="Key">Metric and context (card state left aside: state "not stated").</param>
/// <param name="Cards">Cards measured on this board and on another one.</param>
/// <param name="Percent">Effect of the median polish on logarithms, as % of the middle of all boards; -8 is 8 % slower.</param>
/// <param name="P">Two-sided p of the rank test stratified by card, not yet corrected for the number of boards; null with too few runs.</param>
/// <param name="IsFinding">True when it holds after correction and is at least 3 %.</param>
public sealed record BoardEffect(string Board, ComparabilityKey Key, int Cards, double Percent, double? P, bool IsFinding);
