using System.Numerics;
using MathNet.Numerics.Random;

namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>
/// Up to two changes of level in a short sequence: every division is tried, the residual squares of the logarithms decide, and
/// a permutation test says whether so good a division comes by chance.
/// </summary>
public static class ChangeSearch
{
    /// <summary>Fewest values that are searched; fewer are "too short".</summary>
    public const int Least = 6;

    /// <summary>Most values that are searched; of a longer sequence the caller gives the last ones.</summary>
    public const int Most = 30;

    /// <summary>Fewest values of a level.</summary>
    public const int Segment = 3;

    /// <summary>Least ratio between neighbouring levels that is called a change: 3 %.</summary>
    public const double LeastEffect = 0.03;

    /// <summary>Permutations drawn when there are too many to try all (above n = 8).</summary>
    public const int Drawn = 9999;

    private const int ExactUpTo = 8;

    // Besag and Clifford, Biometrika 1991: once this many draws were as good, p is surely far above any level used here.
    private const int StopAfter = 200;

    /// <summary>Searches 6 to 30 values, all above 0; null outside that length.</summary>
    /// <param name="values">Values in order of measurement.</param>
    /// <param name="alpha">Level at which a change is real.</param>
    /// <param name="seed">Seed of the permutations.</param>
    public static ChangeResult? Of(ReadOnlySpan<double> values, double alpha, int seed)
    {
        int n = values.Length;
        if (n is < Least or > Most)
        {
            return null;
        }

        var logs = new double[n];
        for (int i = 0; i < n; i++)
        {
            logs[i] = Math.Log(values[i]);
        }

        Division one = BestOne(logs), two = BestTwo(logs);
        int[] starts = two.Gain > 0 && PrefersTwo(logs, one, two) ? [two.First, two.Second] : one.Gain > 0 ? [one.First] : [];
        starts = LargeEnough(logs, starts);
        if (starts.Length == 0)
        {
            return new ChangeResult([], [Level(logs, 0, n)], 1, 0);
        }

        (double p, int permutations) = Permute(logs, one.Gain, two.Gain, seed);
        if (p > alpha)
        {
            return new ChangeResult([], [Level(logs, 0, n)], p, permutations);
        }

        int[] bounds = [0, .. starts, n];
        double[] levels = [.. Enumerable.Range(0, bounds.Length - 1).Select(i => Level(logs, bounds[i], bounds[i + 1]))];
        return new ChangeResult(starts, levels, p, permutations);
    }

    /// <summary>Index of the first value after the single best change by least squares, of at least two values.</summary>
    public static int BestSplit(ReadOnlySpan<double> values, int segment = 1)
    {
        double all = 0;
        foreach (double value in values)
        {
            all += value;
        }

        int best = segment, n = values.Length;
        double most = double.NegativeInfinity, left = 0;
        for (int i = 1; i <= n - segment; i++)
        {
            left += values[i - 1];
            double gain = left * left / i + (all - left) * (all - left) / (n - i);
            if (i >= segment && gain > most)
            {
                (most, best) = (gain, i);
            }
        }

        return best;
    }

    /// <summary>0, 1, 2 and so on, as far as a step of <see cref="MostByTwo"/> reaches.</summary>
    private static readonly double[] Lengths = [.. Enumerable.Range(0, Most + 1 + Vector<double>.Count).Select(n => (double)n)];

    private readonly record struct Division(double Gain, int First, int Second);

    private static Division BestOne(ReadOnlySpan<double> logs)
    {
        int n = logs.Length;
        Span<double> sums = stackalloc double[Most + 1];
        Accumulate(logs, sums);
        var best = new Division(0, 0, 0);
        for (int i = Segment; i <= n - Segment; i++)
        {
            double gain = Gain(sums, 0, i) + Gain(sums, i, n) - Gain(sums, 0, n);
            if (gain > best.Gain)
            {
                best = new Division(gain, i, 0);
            }
        }

        return best;
    }

    private static Division BestTwo(ReadOnlySpan<double> logs)
    {
        int n = logs.Length;
        Span<double> sums = stackalloc double[Most + 1];
        Accumulate(logs, sums);
        var best = new Division(0, 0, 0);
        double whole = Gain(sums, 0, n);
        for (int i = Segment; i <= n - 2 * Segment; i++)
        {
            double head = Gain(sums, 0, i) - whole;
            for (int j = i + Segment; j <= n - Segment; j++)
            {
                double gain = head + Gain(sums, i, j) + Gain(sums, j, n);
                if (gain > best.Gain)
                {
                    best = new Division(gain, i, j);
                }
            }
        }

        return best;
    }

    /// <summary>
    /// What the best two changes of level gain, to the last bit what <see cref="BestTwo"/> says, for the ten thousand permutations of a test:
    /// nearly all the time of an analysis is spent here. Several second changes are looked at in one step.
    /// </summary>
    internal static double MostByTwo(ReadOnlySpan<double> logs)
    {
        int n = logs.Length, step = Vector<double>.Count;
        Span<double> sums = stackalloc double[Most + 1 + step], tails = stackalloc double[Most + 1 + step];
        sums.Clear();
        Accumulate(logs, sums);
        tails.Fill(double.NegativeInfinity); // behind the last place a change can be, so that a step beyond it counts nothing
        for (int j = 2 * Segment; j <= n - Segment; j++)
        {
            tails[j] = Gain(sums, j, n);
        }

        double whole = Gain(sums, 0, n);
        Vector<double> most = Vector<double>.Zero;
        for (int i = Segment; i <= n - 2 * Segment; i++)
        {
            var head = new Vector<double>(Gain(sums, 0, i) - whole);
            var before = new Vector<double>(sums[i]);
            for (int j = i + Segment; j <= n - Segment; j += step)
            {
                Vector<double> sum = new Vector<double>(sums[j..]) - before;
                most = Vector.Max(most, head + (sum * sum / new Vector<double>(Lengths, j - i)) + new Vector<double>(tails[j..]));
            }
        }

        double best = 0;
        for (int lane = 0; lane < step; lane++)
        {
            best = Math.Max(best, most[lane]);
        }

        return best;
    }

    private static void Accumulate(ReadOnlySpan<double> logs, Span<double> sums)
    {
        // Around the first value, so that the differences of large squares keep their digits.
        for (int i = 0; i < logs.Length; i++)
        {
            sums[i + 1] = sums[i] + (logs[i] - logs[0]);
        }
    }

    private static double Gain(ReadOnlySpan<double> sums, int from, int to)
    {
        double sum = sums[to] - sums[from];
        return sum * sum / (to - from);
    }

    private static bool PrefersTwo(double[] logs, Division one, Division two)
    {
        // Schwarz' criterion with the place and the level of each change counted.
        double mean = Summary.MeanOf(logs), total = logs.Sum(v => (v - mean) * (v - mean)), n = logs.Length;
        double restOne = Math.Max(total - one.Gain, total * 1e-12), restTwo = Math.Max(total - two.Gain, total * 1e-12);
        return n * Math.Log(restTwo / restOne) + 2 * Math.Log(n) < 0;
    }

    private static int[] LargeEnough(double[] logs, int[] starts)
    {
        var kept = starts.ToList();
        for (int i = kept.Count - 1; i >= 0; i--)
        {
            int from = i == 0 ? 0 : kept[i - 1], to = i == kept.Count - 1 ? logs.Length : kept[i + 1];
            double ratio = Level(logs, kept[i], to) / Level(logs, from, kept[i]);
            if (Math.Abs(ratio - 1) < LeastEffect)
            {
                kept.RemoveAt(i);
            }
        }

        return [.. kept];
    }

    private static double Level(double[] logs, int from, int to) => Math.Exp(Summary.MeanOf(logs.AsSpan(from, to - from)));

    private static (double P, int Permutations) Permute(double[] logs, double gainOne, double gainTwo, int seed)
    {
        const double Slack = 1 - 1e-9; // equal up to rounding counts as equal
        double[] order = [.. logs];
        int asGoodOne = 0, asGoodTwo = 0, tried = 0;
        if (logs.Length <= ExactUpTo)
        {
            Array.Sort(order);
            do
            {
                Count();
            }
            while (NextPermutation(order));

            return (Math.Min(1, (gainTwo > 0 ? 2.0 : 1.0) * Fewer() / tried), tried);
        }

        var random = new MersenneTwister(seed, threadSafe: false);
        while (tried < Drawn && Fewer() < StopAfter)
        {
            for (int i = order.Length - 1; i > 0; i--)
            {
                int j = random.Next(i + 1);
                (order[i], order[j]) = (order[j], order[i]);
            }

            Count();
        }

        return (Math.Min(1, 2.0 * (Fewer() + 1) / (tried + 1)), tried);

        void Count()
        {
            tried++;
            asGoodOne += BestOne(order).Gain >= gainOne * Slack ? 1 : 0;
            asGoodTwo += gainTwo > 0 && MostByTwo(order) >= gainTwo * Slack ? 1 : 0;
        }

        // One or two changes are looked for: the better of both counts, doubled for having looked twice.
        int Fewer() => gainTwo > 0 ? Math.Min(asGoodOne, asGoodTwo) : asGoodOne;
    }

    private static bool NextPermutation(double[] order)
    {
        int i = order.Length - 2;
        while (i >= 0 && order[i] >= order[i + 1])
        {
            i--;
        }

        if (i < 0)
        {
            return false;
        }

        int j = order.Length - 1;
        while (order[j] <= order[i])
        {
            j--;
        }

        (order[i], order[j]) = (order[j], order[i]);
        Array.Reverse(order, i + 1, order.Length - i - 1);
        return true;
    }
}
