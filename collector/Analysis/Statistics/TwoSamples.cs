using MathNet.Numerics.Distributions;

namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>
/// Two independent samples: Wilcoxon rank sum with its exact distribution, the Hodges-Lehmann shift with the interval that
/// belongs to it (Hollander and Wolfe, Nonparametric Statistical Methods; the same computation as R's wilcox.test), Cliff's delta.
/// For drill-down; never for ranking.
/// </summary>
/// <param name="W">Pairs in which x is larger, ties half (R's W).</param>
/// <param name="GreaterP">One-sided p of "x is larger".</param>
/// <param name="P">Two-sided p.</param>
/// <param name="Shift">Hodges-Lehmann estimate of x - y.</param>
/// <param name="Low">Lower bound of the shift.</param>
/// <param name="High">Upper bound of the shift.</param>
/// <param name="Level">Exact level of the bounds.</param>
/// <param name="Delta">Cliff's delta, -1 to 1.</param>
public sealed record TwoSamples(double W, double GreaterP, double P, double Shift, double Low, double High, double Level, double Delta)
{
    private const int ExactLimit = 2500;

    /// <summary>Compares two samples of at least one value each.</summary>
    public static TwoSamples Of(IReadOnlyList<double> x, IReadOnlyList<double> y, double level = 0.95)
    {
        int m = x.Count, n = y.Count;
        var differences = new double[m * n];
        double larger = 0, smaller = 0;
        for (int i = 0; i < m; i++)
        {
            for (int j = 0; j < n; j++)
            {
                double difference = x[i] - y[j];
                differences[i * n + j] = difference;
                larger += difference > 0 ? 1 : 0;
                smaller += difference < 0 ? 1 : 0;
            }
        }

        Array.Sort(differences);
        double w = larger + (m * n - larger - smaller) / 2;
        bool tied = x.Concat(y).Distinct().Count() < m + n;
        double[]? below = m * n <= ExactLimit ? CumulativeCounts(m, n) : null;
        double greater = below is null || tied ? NormalTail(x, y, w) : 1 - (w < 1 ? 0 : below[(int)w - 1]);
        double less = below is null || tied ? NormalTail(y, x, m * n - w) : below[(int)w];
        int rank = LowerRank(m, n, level, below);
        double exactLevel = below is null ? level : Math.Max(0, 1 - 2 * below[rank - 1]);
        return new TwoSamples(
            w, greater, Math.Min(1, 2 * Math.Min(greater, less)), Summary.MedianOfSorted(differences),
            differences[rank - 1], differences[^rank], exactLevel, (larger - smaller) / (m * n));
    }

    /// <summary>
    /// Ratio of the medians of x and y with its interval: the shift of the logarithms. All values must be above 0.
    /// </summary>
    public static TwoSamples OnLogs(IReadOnlyList<double> x, IReadOnlyList<double> y, double level = 0.95)
    {
        TwoSamples logs = Of([.. x.Select(v => Math.Log(v))], [.. y.Select(v => Math.Log(v))], level);
        return logs with { Shift = Math.Exp(logs.Shift), Low = Math.Exp(logs.Low), High = Math.Exp(logs.High) };
    }

    /// <summary>P(W &lt;= i) for i = 0 .. m n under exchangeability without ties.</summary>
    public static double[] CumulativeCounts(int m, int n)
    {
        // Arrangements by W: choosing which ranks are x, one value after the other, in shares so that nothing overflows.
        // f(i, j, w) = i/(i+j) f(i-1, j, w - j) + j/(i+j) f(i, j-1, w)
        var row = new double[n + 1][];
        for (int i = 0; i <= m; i++)
        {
            var next = new double[n + 1][];
            for (int j = 0; j <= n; j++)
            {
                var share = new double[i * j + 1];
                if (i == 0 || j == 0)
                {
                    share[0] = 1;
                }
                else
                {
                    double fromX = (double)i / (i + j), fromY = (double)j / (i + j);
                    double[] without = row[j], left = next[j - 1];
                    for (int w = 0; w < without.Length; w++)
                    {
                        share[w + j] += fromX * without[w];
                    }

                    for (int w = 0; w < left.Length; w++)
                    {
                        share[w] += fromY * left[w];
                    }
                }

                next[j] = share;
            }

            row = next;
        }

        double[] result = row[n];
        for (int w = 1; w < result.Length; w++)
        {
            result[w] += result[w - 1];
        }

        return result;
    }

    private static int LowerRank(int m, int n, double level, double[]? below)
    {
        double tail = (1 - level) / 2;
        if (below is not null)
        {
            // R's qwilcox: the least q with P(W <= q) >= tail, at least 1.
            int q = 0;
            while (below[q] < tail)
            {
                q++;
            }

            return Math.Max(1, q);
        }

        double sd = Math.Sqrt(m * (double)n * (m + n + 1) / 12);
        return Math.Max(1, (int)Math.Floor(m * (double)n / 2 + Normal.InvCDF(0, 1, tail) * sd));
    }

    private static double NormalTail(IReadOnlyList<double> x, IReadOnlyList<double> y, double w)
    {
        double m = x.Count, n = y.Count, total = m + n;
        double ties = x.Concat(y).GroupBy(v => v).Sum(g => Math.Pow(g.Count(), 3) - g.Count());
        double variance = m * n / 12 * (total + 1 - ties / (total * (total - 1)));
        return variance <= 0 ? 1 : Normal.CDF(0, 1, -(w - m * n / 2 - 0.5) / Math.Sqrt(variance));
    }
}
