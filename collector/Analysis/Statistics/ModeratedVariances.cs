using MathNet.Numerics;

namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>
/// Variances of many small groups, each drawn toward what all of them have in common (Smyth, "Linear models and empirical Bayes methods", 2004):
/// ln s^2 scatters by chance alone with trigamma(df/2); what it scatters beyond that is how much groups really differ.
/// </summary>
/// <param name="PriorDf">Degrees of freedom d0 that the common variance counts for; infinite when the groups do not differ beyond chance.</param>
/// <param name="PriorVariance">The common variance s0^2.</param>
public readonly record struct ModeratedVariances(double PriorDf, double PriorVariance)
{
    /// <summary>Fewest groups with a variance of their own that say what is common.</summary>
    public const int LeastGroups = 5;

    // A variance far below all others is rounding, not knowledge; the share is the one of the reference implementation in R (from memory).
    private const double LeastShare = 1e-5;
    private const double LeastVariance = 1e-14;

    /// <summary>The prior of groups with the variances and degrees of freedom given, at least two of them, all above 0.</summary>
    public static ModeratedVariances Of(IReadOnlyList<double> variances, IReadOnlyList<double> df)
    {
        double floor = Math.Max(LeastVariance, LeastShare * Summary.MedianOf([.. variances]));
        double[] e =
        [
            .. variances.Select((s2, i) => Math.Log(Math.Max(s2, floor)) - SpecialFunctions.DiGamma(df[i] / 2) + Math.Log(df[i] / 2)),
        ];
        double mean = Summary.MeanOf(e), spread = Summary.StandardDeviation(e);
        double excess = spread * spread - df.Average(d => Trigamma.Of(d / 2));
        double d0 = 2 * Trigamma.Inverse(excess);
        return double.IsInfinity(d0)
            ? new ModeratedVariances(d0, Math.Exp(mean))
            : new ModeratedVariances(d0, Math.Exp(mean + SpecialFunctions.DiGamma(d0 / 2) - Math.Log(d0 / 2)));
    }

    /// <summary>The moderated variance of a group: what it says itself and what all say, weighed by their degrees of freedom.</summary>
    public double Moderate(double variance, double df) => double.IsInfinity(PriorDf)
        ? PriorVariance
        : (PriorDf * PriorVariance + df * variance) / (PriorDf + df);
}
