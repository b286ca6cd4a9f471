using Cardassay.Trials;

namespace Cardassay.Collector.Analysis.CrossChecks;

/// <summary>Whether the first value of a sequence is the worst, or the best, more often than chance allows (METHOD rule 5).</summary>
/// <param name="Kind">Metric.</param>
/// <param name="Plan">Plan and version.</param>
/// <param name="Sequences">Sequences of at least 3 values: one card, key, board and night.</param>
/// <param name="FirstIsWorst">Sequences whose first value is the worst.</param>
/// <param name="FirstIsBest">Sequences whose first value is the best: a fresh cache, or a cold card.</param>
/// <param name="P">Exact probability of as many or more of the rarer of the two if the order did not matter, corrected over all plans, metrics and both directions (Holm).</param>
/// <param name="WarmUp">Leading repetitions to set aside: 0 when the effect is not real at 1 %.</param>
/// <param name="MedianPercent">Median of the first value against the median of the rest, %; -5 is 5 % lower.</param>
public sealed record FirstRunEffect(
    TrialKind Kind, string Plan, int Sequences, int FirstIsWorst, int FirstIsBest, double P, int WarmUp, double MedianPercent)
{
    /// <summary>True when it is the best value that comes first.</summary>
    public bool IsBest => FirstIsBest > FirstIsWorst;
}
