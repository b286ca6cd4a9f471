namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>
/// One-way analysis of variance with random groups, and what ISO 5725-2 makes of it: repeatability r = 2.8 s_r and
/// reproducibility R = 2.8 sqrt(s_r^2 + s_L^2), the differences two single results exceed in 5 % of cases on one and on two rigs.
/// </summary>
/// <param name="Groups">Number of groups, at least 2.</param>
/// <param name="N">Number of values.</param>
/// <param name="F">Variance ratio; infinite when the groups do not vary inside.</param>
/// <param name="WithinSd">Standard deviation within groups, s_r.</param>
/// <param name="BetweenSd">Standard deviation between groups, s_L; 0 when the estimate of its square is negative.</param>
public sealed record VarianceComponents(int Groups, int N, double F, double WithinSd, double BetweenSd)
{
    /// <summary>Factor of ISO 5725-6: 1.96 sqrt(2), rounded to 2.8 by the standard.</summary>
    public const double LimitFactor = 2.8;

    /// <summary>Repeatability limit r.</summary>
    public double Repeatability => LimitFactor * WithinSd;

    /// <summary>Reproducibility limit R.</summary>
    public double Reproducibility => LimitFactor * Math.Sqrt(WithinSd * WithinSd + BetweenSd * BetweenSd);

    /// <summary>Components of groups of any sizes; null when there are fewer than two groups or no group with two values.</summary>
    public static VarianceComponents? Of(IReadOnlyList<IReadOnlyList<double>> groups)
    {
        double[][] filled = [.. groups.Where(g => g.Count > 0).Select(g => g.ToArray())];
        return OfSums([.. filled.Select(g =>
        {
            double mean = Summary.MeanOf(g);
            return (g.Length, mean, g.Sum(v => (v - mean) * (v - mean)));
        })]);
    }

    /// <summary>The same from the size, the mean and the squares around the mean of each group, none of them empty.</summary>
    public static VarianceComponents? OfSums(IReadOnlyList<(int N, double Mean, double Squares)> groups)
    {
        int k = groups.Count, n = groups.Sum(g => g.N);
        if (k < 2 || n <= k)
        {
            return null;
        }

        // Around one of the means, so that close means keep their digits.
        double all = groups[0].Mean + groups.Sum(g => g.N * (g.Mean - groups[0].Mean)) / n;
        double within = groups.Sum(g => g.Squares), between = groups.Sum(g => g.N * (g.Mean - all) * (g.Mean - all));
        double squaredSizes = groups.Sum(g => (double)g.N * g.N);
        double withinSquare = within / (n - k), betweenSquare = between / (k - 1);
        double typicalSize = (n - squaredSizes / n) / (k - 1);
        double component = Math.Max(0, (betweenSquare - withinSquare) / typicalSize);
        double f = withinSquare == 0 ? double.PositiveInfinity : betweenSquare / withinSquare;
        return new VarianceComponents(k, n, f, Math.Sqrt(withinSquare), Math.Sqrt(component));
    }
}
