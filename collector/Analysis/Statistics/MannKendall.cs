using MathNet.Numerics.Distributions;

namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>Mann-Kendall test for a trend (Mann, Econometrica 1945), with the exact distribution where no values tie.</summary>
/// <param name="S">Rising pairs less falling pairs.</param>
/// <param name="OneTailP">Probability of an S as extreme or more in its own direction, if the order did not matter.</param>
public readonly record struct MannKendall(int S, double OneTailP)
{
    /// <summary>Two-sided p.</summary>
    public double P => Math.Min(1, 2 * OneTailP);

    /// <summary>Tests at least two values in order of time.</summary>
    public static MannKendall Of(ReadOnlySpan<double> values)
    {
        int n = values.Length, s = 0;
        for (int i = 0; i < n; i++)
        {
            for (int j = i + 1; j < n; j++)
            {
                s += Math.Sign(values[j] - values[i]);
            }
        }

        double[] sorted = values.ToArray();
        Array.Sort(sorted);
        bool ties = false;
        for (int i = 1; i < n; i++)
        {
            ties |= sorted[i] == sorted[i - 1];
        }

        return new MannKendall(s, ties || n > 60 ? NormalTail(sorted, s) : ExactTail(n, Math.Abs(s)));
    }

    /// <summary>P(S >= s) for n values without ties: permutations by number of inversions.</summary>
    public static double ExactTail(int n, int s)
    {
        int pairs = n * (n - 1) / 2;
        int fewest = (pairs - s) / 2; // S = pairs - 2 inversions, so S >= s means at most this many
        double[] share = [1];
        for (int k = 2; k <= n; k++)
        {
            // The k-th value can be placed so that it adds 0 to k - 1 inversions, each with probability 1/k.
            var next = new double[share.Length + k - 1];
            double window = 0;
            for (int i = 0; i < next.Length; i++)
            {
                window += i < share.Length ? share[i] : 0;
                window -= i - k >= 0 && i - k < share.Length ? share[i - k] : 0;
                next[i] = Math.Max(0, window) / k;
            }

            share = next;
        }

        double sum = 0;
        for (int i = 0; i <= fewest && i < share.Length; i++)
        {
            sum += share[i];
        }

        return Math.Min(1, sum);
    }

    private static double NormalTail(double[] sorted, int s)
    {
        double n = sorted.Length, variance = n * (n - 1) * (2 * n + 5);
        for (int i = 0; i < sorted.Length;)
        {
            int j = i;
            while (j < sorted.Length && sorted[j] == sorted[i])
            {
                j++;
            }

            double t = j - i;
            variance -= t * (t - 1) * (2 * t + 5);
            i = j;
        }

        // Continuity correction of 1, as the step of S is 2 without ties.
        return variance <= 0 ? 1 : Normal.CDF(0, 1, -(Math.Max(0, Math.Abs(s) - 1)) / Math.Sqrt(variance / 18));
    }
}
