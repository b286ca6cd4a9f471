using Cardassay.Collector.Analysis.Figures;

namespace Cardassay.Collector.Analysis.CrossChecks;

/// <summary>Two boards beside each other over the cards that link them.</summary>
/// <param name="Slower">Board that measures the lower figures.</param>
/// <param name="Faster">The other one.</param>
/// <param name="Key">A key of the context, card state left aside.</param>
/// <param name="Metrics">Metrics asked together.</param>
/// <param name="Percent">How much slower over all metrics together, %; negative.</param>
/// <param name="LargestPercent">The largest difference that holds by itself: over all metrics together or in one of them, %; 0 when none does.</param>
/// <param name="LargestIn">Where that is: "all metrics together", or the metric.</param>
/// <param name="P">p of the joint question, corrected over all pairs of boards (Holm).</param>
/// <param name="Cards">Cards that were on both boards.</param>
public sealed record BoardPair(
    string Slower, string Faster, ComparabilityKey Key, int Metrics, double Percent, double LargestPercent, string LargestIn, double P, int Cards)
{
    /// <summary>True when they differ for certain.</summary>
    public bool Differs => P <= BoardComparison.Alpha;

    /// <summary>True when they differ by 3 % or more as well.</summary>
    public bool IsFinding => Differs && Math.Abs(LargestPercent) >= BoardComparison.LeastPercent;
}
