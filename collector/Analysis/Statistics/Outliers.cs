using MathNet.Numerics.Distributions;

namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>Flags for values far from the others. A flag never drops a value.</summary>
public static class Outliers
{
    /// <summary>Modified z-score above which a value is flagged (Iglewicz and Hoaglin, 1993; NIST/SEMATECH e-Handbook 1.3.5.17).</summary>
    public const double ModifiedZLimit = 3.5;

    /// <summary>Fewest values for the modified z-score.</summary>
    public const int ModifiedZLeast = 7;

    private const int OnStack = 256;

    /// <summary>Indices whose modified z-score 0.6745 (x - median) / MAD exceeds 3.5; none below 7 values or with a MAD of 0.</summary>
    public static IReadOnlyList<int> ByModifiedZ(IReadOnlyList<double> values)
    {
        if (values.Count < ModifiedZLeast)
        {
            return [];
        }

        Summary summary = Summary.Of([.. values]);
        if (summary.Mad == 0)
        {
            return [];
        }

        return [.. Enumerable.Range(0, values.Count).Where(i => Math.Abs(0.6745 * (values[i] - summary.Median) / summary.Mad) > ModifiedZLimit)];
    }

    /// <summary>
    /// Generalised extreme studentised deviate test for up to <paramref name="most"/> outliers (Rosner, Technometrics 1983; NIST/SEMATECH e-Handbook
    /// 1.3.5.17.3).
    /// </summary>
    public static EsdResult GeneralisedEsd(IReadOnlyList<double> values, int most, double alpha = 0.05)
    {
        var steps = new List<(double R, double Lambda)>();
        int[] removed = new int[most];
        int outliers = Esd([.. values], most, n => Critical(n, alpha / 2), removed, steps);
        return new EsdResult([.. steps.Select(s => s.R)], [.. steps.Select(s => s.Lambda)], removed[..outliers]);
    }

    /// <summary>The indices of the outliers alone, the most extreme first; for many series of about the same length, for which a critical value by number of values is computed once.</summary>
    public static int[] ByEsd(ReadOnlySpan<double> values, int most, Func<int, double> critical)
    {
        Span<int> removed = most <= OnStack ? stackalloc int[most] : new int[most];
        int outliers = Esd(values, most, critical, removed, null);
        return outliers == 0 ? [] : removed[..outliers].ToArray();
    }

    private static int Esd(ReadOnlySpan<double> values, int most, Func<int, double> critical, Span<int> removed, List<(double R, double Lambda)>? steps)
    {
        int outliers = 0;
        Span<double> left = values.Length <= OnStack ? stackalloc double[values.Length] : new double[values.Length];
        Span<int> places = values.Length <= OnStack ? stackalloc int[values.Length] : new int[values.Length];
        values.CopyTo(left);
        for (int i = 0; i < places.Length; i++)
        {
            places[i] = i;
        }

        for (int i = 1, count = left.Length; i <= most && count > 2; i++, count--)
        {
            Span<double> kept = left[..count];
            double mean = Summary.MeanOf(kept), sd = Summary.StandardDeviation(kept);
            if (sd == 0)
            {
                break;
            }

            int extreme = 0;
            for (int k = 1; k < count; k++)
            {
                extreme = Math.Abs(kept[k] - mean) > Math.Abs(kept[extreme] - mean) ? k : extreme;
            }

            double r = Math.Abs(kept[extreme] - mean) / sd, lambda = critical(count);
            steps?.Add((r, lambda));
            removed[i - 1] = places[extreme];
            kept[(extreme + 1)..].CopyTo(kept[extreme..]);
            places[(extreme + 1)..count].CopyTo(places[extreme..]);
            outliers = r > lambda ? i : outliers;
        }

        return outliers;
    }

    /// <summary>
    /// Upper bound of the two-sided p of the most extreme value (Grubbs' test, Bonferroni over the values); 1 when it cannot be computed.
    /// </summary>
    public static double GrubbsP(IReadOnlyList<double> values)
    {
        int n = values.Count;
        double[] copy = [.. values];
        double sd = n < 3 ? 0 : Summary.StandardDeviation(copy);
        if (sd == 0)
        {
            return 1;
        }

        double mean = Summary.MeanOf(copy);
        double g = values.Max(v => Math.Abs(v - mean)) / sd;
        double rest = (n - 1.0) * (n - 1) - n * g * g;
        if (rest <= 0)
        {
            return 0;
        }

        double t = Math.Sqrt(n * (n - 2.0) * g * g / rest);
        return Math.Min(1, 2 * n * StudentT.CDF(0, 1, n - 2, -t));
    }

    /// <summary>Critical value of Grubbs' statistic with <paramref name="tail"/> in the one tail looked at (half of it for both).</summary>
    public static double Critical(int n, double tail)
    {
        double t = StudentQuantile.Upper(n - 2, tail / n);
        return (n - 1) * t / Math.Sqrt((n - 2 + t * t) * n);
    }
}
