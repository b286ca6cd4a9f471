using Cardassay.Collector.Analysis.CardBoard;

namespace Cardassay.Collector.Analysis.Ranking;

/// <summary>One metric of a ranking.</summary>
/// <param name="Fit">Its model.</param>
/// <param name="Weight">Share in the composite.</param>
/// <param name="LogReference">Logarithm of the figure that counts as 1.</param>
/// <param name="LogEnough">Logarithm of the figure beyond which more does not count, or null.</param>
internal sealed record RankMetric(CardBoardFit Fit, double Weight, double LogReference, double? LogEnough);
