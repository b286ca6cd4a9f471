using System.Buffers;
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
    public static ModeratedVariances Of(IReadOnlyList<double> variances, IReadOnlyList<double> df) =>
        Of([.. variances], [.. df.Select(LogVarianceScatter.Of)]);

    /// <summary>The same where it is known what chance does to each of the variances, which are written over.</summary>
    internal static ModeratedVariances Of(Span<double> e, ReadOnlySpan<LogVarianceScatter> chance)
    {
        double[] room = ArrayPool<double>.Shared.Rent(e.Length);
        e.CopyTo(room);
        double floor = Math.Max(LeastVariance, LeastShare * Summary.MedianInPlace(room.AsSpan(0, e.Length))), byChance = 0;
        ArrayPool<double>.Shared.Return(room);
        for (int i = 0; i < e.Length; i++)
        {
            e[i] = Math.Log(Math.Max(e[i], floor)) - chance[i].Mean;
            byChance += chance[i].Variance;
        }

        double mean = Summary.MeanOf(e), spread = Summary.StandardDeviation(e);
        double excess = spread * spread - byChance / e.Length;
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
