using MathNet.Numerics;

namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>What chance makes of the logarithm of a sample's variance over the true one (Smyth, 2004).</summary>
/// <param name="Mean">digamma(df/2) - ln(df/2).</param>
/// <param name="Variance">trigamma(df/2).</param>
internal readonly record struct LogVarianceScatter(double Mean, double Variance)
{
    /// <summary>That of so many degrees of freedom, above 0.</summary>
    public static LogVarianceScatter Of(double df) => new(SpecialFunctions.DiGamma(df / 2) - Math.Log(df / 2), Trigamma.Of(df / 2));
}
