using MathNet.Numerics.Distributions;
using MathNet.Numerics.Statistics;

namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>
/// Whether two groups scatter differently: their distances from their medians compared (NIST/SEMATECH e-Handbook 1.3.5.10, Levene's test in the
/// form of Brown and Forsythe). The plain ratio of variances takes one odd night for a bad board.
/// </summary>
public static class SpreadTest
{
    /// <summary>Chance of so different a scatter of two groups of one spread, 0 to 1; 1 where nothing scatters.</summary>
    /// <param name="a">At least two figures.</param>
    /// <param name="b">At least two figures.</param>
    public static double P(IReadOnlyList<double> a, IReadOnlyList<double> b)
    {
        double[] fromA = Distances(a), fromB = Distances(b);
        double meanA = fromA.Average(), meanB = fromB.Average();
        int degrees = fromA.Length + fromB.Length - 2;
        double within = (fromA.Sum(d => (d - meanA) * (d - meanA)) + fromB.Sum(d => (d - meanB) * (d - meanB))) / degrees;
        double between = (meanA - meanB) * (meanA - meanB) * fromA.Length * fromB.Length / (fromA.Length + fromB.Length);
        return within <= 0 ? 1 : 1 - FisherSnedecor.CDF(1, degrees, between / within);
    }

    private static double[] Distances(IReadOnlyList<double> of)
    {
        double median = of.Median();
        return [.. of.Select(x => Math.Abs(x - median))];
    }
}
