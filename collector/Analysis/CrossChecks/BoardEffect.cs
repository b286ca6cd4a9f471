using Cardassay.Collector.Analysis.Figures;

namespace Cardassay.Collector.Analysis.CrossChecks;

/// <summary>How much faster or slower a board measures a metric, beside the middle of the boards that cards link it with.</summary>
/// <param name="Board">Board.</param>
/// <param name="Key">Metric and context (card state left aside: state "not stated").</param>
/// <param name="Cards">Cards measured on this board and on another one.</param>
/// <param name="Percent">Effect in the card + board model, as % of the middle of its boards; -8 is 8 % slower. The ranking has it taken out.</param>
/// <param name="ErrorPercent">Standard error of it, percentage points; null where nothing is known of it.</param>
/// <param name="Differs">True when the board differs for certain from another one, asked once over all metrics.</param>
/// <param name="IsFinding">True when one of those differences is at least 3 % as well.</param>
public sealed record BoardEffect(string Board, ComparabilityKey Key, int Cards, double Percent, double? ErrorPercent, bool Differs, bool IsFinding);
