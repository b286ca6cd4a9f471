using MathNet.Numerics.Distributions;

namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>
/// A median with the exact distribution-free interval made of two order statistics: the interval from the r-th smallest to
/// the r-th largest of n values covers the population median with probability 1 - 2 P(Bin(n, 1/2) &lt; r).
/// </summary>
/// <param name="Median">Median of the values (mean of the two middle ones when n is even).</param>
/// <param name="Low">Value at <paramref name="LowRank"/>.</param>
/// <param name="High">Value at <paramref name="HighRank"/>.</param>
/// <param name="LowRank">Rank of the lower bound, from 1.</param>
/// <param name="HighRank">Rank of the upper bound, n + 1 - <paramref name="LowRank"/>.</param>
/// <param name="N">Number of values, at least 1.</param>
/// <param name="Level">Exact coverage of these two ranks, 0 to 1; 0 for a single value.</param>
/// <param name="IsRangeOnly">True when n is too small for the level asked for: then it is the range and is called so, never an interval.</param>
public readonly record struct MedianInterval(
    double Median, double Low, double High, int LowRank, int HighRank, int N, double Level, bool IsRangeOnly)
{
    /// <summary>Level published for a metric: 97.5 %, because repetition stops on sight and that costs coverage (METHOD rule 2). Needs n >= 7.</summary>
    public const double PublishedLevel = 0.975;

    /// <summary>Nominal level of a single interval without stopping on sight, 95 %. Needs n >= 6.</summary>
    public const double NominalLevel = 0.95;

    /// <summary>Half the width over the median: 0.05 is "+-5 %". Infinite when the median is 0 and the width is not.</summary>
    public double RelativeHalfWidth => High == Low ? 0 : (High - Low) / 2 / Math.Abs(Median);

    /// <summary>The interval of the least width among symmetric ranks whose coverage reaches <paramref name="level"/>.</summary>
    /// <param name="values">At least one value, in any order; not changed.</param>
    /// <param name="level">Coverage wanted, above 0 and below 1.</param>
    /// <exception cref="ArgumentException">No value, or one that is not a number.</exception>
    public static MedianInterval Of(IReadOnlyCollection<double> values, double level = PublishedLevel)
    {
        double[] sorted = [.. values];
        Array.Sort(sorted);
        return OfSorted(sorted, level);
    }

    /// <summary>As <see cref="Of"/> for values already in ascending order.</summary>
    /// <exception cref="ArgumentException">No value, or one that is not a number.</exception>
    public static MedianInterval OfSorted(ReadOnlySpan<double> sorted, double level = PublishedLevel)
    {
        int n = sorted.Length;
        if (n == 0 || double.IsNaN(sorted[0]))
        {
            throw new ArgumentException("A median needs at least one value and every value a number.", nameof(sorted));
        }

        int rank = LowerRank(n, level);
        int used = Math.Max(rank, 1);
        double median = n % 2 == 1 ? sorted[n / 2] : (sorted[n / 2 - 1] + sorted[n / 2]) / 2;
        return new MedianInterval(median, sorted[used - 1], sorted[n - used], used, n + 1 - used, n, Coverage(n, used), rank == 0);
    }

    /// <summary>Coverage of the interval from rank <paramref name="lowRank"/> to n + 1 - <paramref name="lowRank"/>, 0 to 1.</summary>
    public static double Coverage(int n, int lowRank)
    {
        if (n > 1000)
        {
            return Math.Max(0, 1 - 2 * Binomial.CDF(0.5, n, lowRank - 1));
        }

        // Powers of two are exact in binary: the sum is right to the last digit, which the incomplete beta function is not.
        double term = Math.ScaleB(1, -n), below = 0;
        for (int k = 0; k < lowRank; k++)
        {
            below += term;
            term = term * (n - k) / (k + 1);
        }

        return Math.Max(0, 1 - 2 * below);
    }

    /// <summary>Largest rank whose coverage reaches the level; 0 when even the range does not.</summary>
    public static int LowerRank(int n, double level)
    {
        int rank = 0;
        if (n > 1000)
        {
            while (2 * (rank + 1) <= n && Coverage(n, rank + 1) >= level)
            {
                rank++;
            }

            return rank;
        }

        double term = Math.ScaleB(1, -n), below = term;
        while (2 * (rank + 1) <= n && 1 - 2 * below >= level)
        {
            rank++;
            term = term * (n - rank + 1) / rank;
            below += term;
        }

        return rank;
    }
}
