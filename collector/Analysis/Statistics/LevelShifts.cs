namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>
/// Where the throughput of one trial shifts to another level, second by second: up to two shifts by least squares, as many as Schwarz'
/// criterion (Annals of Statistics 6, 1978) pays for. A description of one trial, not a test: seconds depend on each other, so no p is given.
/// </summary>
public static class LevelShifts
{
    /// <summary>Least change between neighbouring levels, as a share of the higher one: common practice, no source.</summary>
    public const double LeastEffect = 0.15;

    /// <summary>Shortest level, seconds, so that a single stall makes none.</summary>
    public const int Shortest = 3;

    private const int Most = 3600;

    /// <summary>Index of the first value of each new level, ascending; empty when none is large enough. Of more than an hour the first hour is looked at.</summary>
    /// <param name="values">One value per second, none below 0.</param>
    public static IReadOnlyList<int> Of(IReadOnlyList<double> values)
    {
        int n = Math.Min(values.Count, Most);
        if (n < 2 * Shortest)
        {
            return [];
        }

        double[] sums = new double[n + 1];
        double squares = 0;
        for (int i = 0; i < n; i++)
        {
            // Around the first value, so that differences of large squares keep their digits.
            double value = values[i] - values[0];
            sums[i + 1] = sums[i] + value;
            squares += value * value;
        }

        double whole = squares - sums[n] * sums[n] / n;
        (double oneRest, int one) = One(sums, whole);
        (double twoRest, int first, int second) = Two(sums, whole);
        double floor = Math.Max(whole * 1e-9, double.Epsilon);
        double none = n * Math.Log(Math.Max(whole, floor));
        double single = n * Math.Log(Math.Max(oneRest, floor)) + 2 * Math.Log(n);
        double pair = first > 0 ? n * Math.Log(Math.Max(twoRest, floor)) + 4 * Math.Log(n) : double.MaxValue;
        List<int> starts = pair < single && pair < none ? [first, second] : single < none ? [one] : [];
        for (int i = starts.Count - 1; i >= 0; i--)
        {
            // Medians, because a stall of one second draws the mean of a short level down.
            double before = Middle(values, i == 0 ? 0 : starts[i - 1], starts[i]);
            double after = Middle(values, starts[i], i == starts.Count - 1 ? n : starts[i + 1]);
            if (Math.Abs(after - before) < LeastEffect * Math.Max(before, after))
            {
                starts.RemoveAt(i);
            }
        }

        return starts;
    }

    private static (double Left, int At) One(double[] sums, double whole)
    {
        int n = sums.Length - 1;
        (double gain, int at) = (0, 0);
        for (int i = Shortest; i <= n - Shortest; i++)
        {
            double here = Gain(sums, 0, i) + Gain(sums, i, n) - Gain(sums, 0, n);
            (gain, at) = here > gain ? (here, i) : (gain, at);
        }

        return (at == 0 ? whole : whole - gain, at);
    }

    private static (double Left, int First, int Second) Two(double[] sums, double whole)
    {
        int n = sums.Length - 1;
        (double gain, int first, int second) = (0, 0, 0);
        for (int i = Shortest; i <= n - 2 * Shortest; i++)
        {
            double head = Gain(sums, 0, i) - Gain(sums, 0, n);
            for (int j = i + Shortest; j <= n - Shortest; j++)
            {
                double here = head + Gain(sums, i, j) + Gain(sums, j, n);
                if (here > gain)
                {
                    (gain, first, second) = (here, i, j);
                }
            }
        }

        return (whole - gain, first, second);
    }

    private static double Gain(double[] sums, int from, int to)
    {
        double sum = sums[to] - sums[from];
        return sum * sum / (to - from);
    }

    private static double Middle(IReadOnlyList<double> values, int from, int to) => Summary.MedianOf([.. values.Skip(from).Take(to - from)]);
}
