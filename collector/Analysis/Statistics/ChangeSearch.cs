using System.Numerics;
using MathNet.Numerics.Random;

namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>
/// Up to two changes of level in a series of runs: every division into levels of three runs or more is tried, and permutations of the runs say whether
/// so good a division comes by chance. What a division gains is weighed against the card's moderated variance, so that series can be compared.
/// </summary>
internal sealed class ChangeSearch
{
    /// <summary>Fewest runs that are searched; fewer are "too short".</summary>
    public const int Least = 6;

    /// <summary>Most runs that are searched; of a longer series the last ones.</summary>
    public const int Most = 60;

    /// <summary>Fewest runs of a level.</summary>
    public const int Segment = 3;

    /// <summary>Least ratio between neighbouring levels that is called a change: 3 %.</summary>
    public const double LeastEffect = 0.03;

    /// <summary>Permutations drawn when there are too many to try all (above n = 8).</summary>
    public const int Drawn = 9999;

    private const int ExactUpTo = 8;

    // Besag and Clifford, Biometrika 1991: once this many draws were as good, p is surely far above any level used here.
    private const int StopAfter = 200;
    private const double Slack = 1e-9; // equal up to rounding counts as equal

    /// <summary>0, 1, 2 and so on, as far as a step of <see cref="MostByTwo"/> reaches.</summary>
    private static readonly double[] Lengths = [.. Enumerable.Range(0, Most + 1 + Vector<double>.Count).Select(n => (double)n)];

    private readonly double[] _values;
    private readonly double _priorDf;
    private readonly double _priorVariance;
    private readonly double _total;
    private readonly int _levels;
    private double? _largest;

    /// <param name="values">Residuals in order of measurement, at most <see cref="Most"/>; kept and never changed.</param>
    /// <param name="prior">What the laboratory's variances have in common, or null.</param>
    public ChangeSearch(double[] values, ModeratedVariances? prior)
    {
        _values = values;
        (_priorDf, _priorVariance) = prior is { } known ? (known.PriorDf, known.PriorVariance) : (0, 0);
        double mean = Summary.MeanOf(values);
        foreach (double value in values)
        {
            _total += (value - mean) * (value - mean);
        }

        (double one, double two) = (BestOne(values).Gain, MostByTwo(values));
        (double byOne, double byTwo) = (one > 0 ? Weigh(one, 2) : double.NegativeInfinity, two > 0 ? Weigh(two, 4) : double.NegativeInfinity);
        (Statistic, _levels) = byTwo > byOne ? (byTwo, 3) : one > 0 ? (byOne, 2) : (double.NegativeInfinity, 1);
    }

    /// <summary>Logarithm of how much better the best division fits, less what Schwarz' criterion (1978) asks for its places and levels.</summary>
    public double Statistic { get; }

    /// <summary>Index of the first run of each new level.</summary>
    public IReadOnlyList<int> Starts => _levels switch
    {
        3 when BestTwo(_values) is var two => [two.First, two.Second],
        2 => [BestOne(_values).First],
        _ => [],
    };

    /// <summary>The largest statistic any order of these values has: that of the sorted ones.</summary>
    public double Largest => _largest ??= LargestOf(_values);

    /// <summary>Share of a normal sample's orders that reach the statistic, roughly: a screen that only ever silences.</summary>
    public double RoughP
    {
        get
        {
            int n = _values.Length;
            double one = Statistic + 2 * Math.Log(n), two = Statistic + 4 * Math.Log(n);
            return n * Math.Exp(-Math.Max(0, one) / 2) + n * n / 2.0 * Math.Exp(-Math.Max(0, two) / 2);
        }
    }

    /// <summary>Share of the orders of these values whose statistic reaches <paramref name="statistic"/>: all orders up to 8 values, else 9,999 drawn.</summary>
    public double Share(double statistic, int seed)
    {
        double[] order = [.. _values];
        int reached = 0, tried = 0;
        if (order.Length <= ExactUpTo)
        {
            Array.Sort(order);
            do
            {
                tried++;
                reached += StatisticOf(order) >= statistic - Slack ? 1 : 0;
            }
            while (NextPermutation(order));

            return (double)reached / tried;
        }

        var random = new Xoshiro256StarStar(seed, threadSafe: false);
        while (tried < Drawn && reached < StopAfter)
        {
            tried++;
            Shuffle(order, random);
            reached += StatisticOf(order) >= statistic - Slack ? 1 : 0;
        }

        return (reached + 1.0) / (tried + 1);
    }

    /// <summary>How many of so many drawn orders reach the statistic; stops after the first <paramref name="most"/>.</summary>
    public int Reaching(double statistic, int draws, int most, Xoshiro256StarStar random)
    {
        double[] order = [.. _values];
        int reached = 0;
        for (int i = 0; i < draws && reached < most; i++)
        {
            Shuffle(order, random);
            reached += StatisticOf(order) >= statistic - Slack ? 1 : 0;
        }

        return reached;
    }

    /// <summary>Index of the first value after the single best change by least squares, of at least two values.</summary>
    public static int BestSplit(ReadOnlySpan<double> values)
    {
        double all = 0, left = 0, most = double.NegativeInfinity;
        foreach (double value in values)
        {
            all += value;
        }

        int best = 1, n = values.Length;
        for (int i = 1; i < n; i++)
        {
            left += values[i - 1];
            double gain = left * left / i + (all - left) * (all - left) / (n - i);
            (most, best) = gain > most ? (gain, i) : (most, best);
        }

        return best;
    }

    private readonly record struct Division(double Gain, int First, int Second);

    private double LargestOf(double[] values)
    {
        double[] sorted = [.. values];
        Array.Sort(sorted);
        return StatisticOf(sorted);
    }

    private double StatisticOf(double[] order) => Math.Max(Weigh(BestOne(order).Gain, 2), Weigh(MostByTwo(order), 4));

    private double Weigh(double gain, int parameters)
    {
        double n = _values.Length, price = parameters * Math.Log(n);
        if (double.IsInfinity(_priorDf))
        {
            return gain / _priorVariance - price;
        }

        double all = _priorDf * _priorVariance + _total;
        return all <= 0 ? double.NegativeInfinity : (_priorDf + n) * -Math.Log(Math.Max(1e-12, 1 - gain / all)) - price;
    }

    private static Division BestOne(ReadOnlySpan<double> values)
    {
        int n = values.Length;
        Span<double> sums = stackalloc double[Most + 1];
        Accumulate(values, sums);
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

    private static Division BestTwo(ReadOnlySpan<double> values)
    {
        int n = values.Length;
        Span<double> sums = stackalloc double[Most + 1];
        Accumulate(values, sums);
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

    /// <summary>What the best two changes gain, for the permutations: several second changes are looked at in one step.</summary>
    internal static double MostByTwo(ReadOnlySpan<double> values)
    {
        int n = values.Length, step = Vector<double>.Count;
        Span<double> sums = stackalloc double[Most + 1 + step], tails = stackalloc double[Most + 1 + step];
        sums.Clear();
        Accumulate(values, sums);
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

    private static void Accumulate(ReadOnlySpan<double> values, Span<double> sums)
    {
        // Around the first value, so that the differences of large squares keep their digits.
        for (int i = 0; i < values.Length; i++)
        {
            sums[i + 1] = sums[i] + (values[i] - values[0]);
        }
    }

    private static double Gain(ReadOnlySpan<double> sums, int from, int to)
    {
        double sum = sums[to] - sums[from];
        return sum * sum / (to - from);
    }

    private static void Shuffle(double[] order, Xoshiro256StarStar random)
    {
        for (int i = order.Length - 1; i > 0; i--)
        {
            int j = (int)(random.NextDouble() * (i + 1)); // Next(int) makes an array each time
            (order[i], order[j]) = (order[j], order[i]);
        }
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
