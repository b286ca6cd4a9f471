using System.Numerics;

namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>Kendall's tau-b: discordant pairs are counted while sorting (after Knight, JASA 1966).</summary>
public static class KendallTau
{
    /// <summary>Tau-b of two sequences of the same length; null when one of them is constant.</summary>
    public static double? B(ReadOnlySpan<double> x, ReadOnlySpan<double> y)
    {
        int n = x.Length;
        double[] a = x.ToArray(), b = y.ToArray();
        Array.Sort(a, b);
        long tiedX = 0, tiedBoth = 0;
        for (int i = 0; i < n;)
        {
            int j = i;
            while (j < n && a[j] == a[i])
            {
                j++;
            }

            tiedX += Pairs(j - i);
            Array.Sort(b, i, j - i);
            tiedBoth += TiedPairs(b.AsSpan(i, j - i));
            i = j;
        }

        // What is sorted past each other is discordant; equal values stay in order.
        var sort = new PlaceSort(n);
        sort.Sort(b);
        long discordant = new InversionCount(n).Of(sort.Places);
        Array.Sort(b);
        long tiedY = TiedPairs(b), all = Pairs(n);
        double scale = Math.Sqrt((double)(all - tiedX)) * Math.Sqrt(all - tiedY);
        return scale == 0 ? null : (all - tiedX - tiedY + tiedBoth - 2 * discordant) / scale;
    }

    private static long Pairs(long n) => n * (n - 1) / 2;

    private static long TiedPairs(ReadOnlySpan<double> sorted)
    {
        long tied = 0, run = 1;
        for (int i = 1; i <= sorted.Length; i++)
        {
            if (i < sorted.Length && sorted[i] == sorted[i - 1])
            {
                run++;
            }
            else
            {
                tied += Pairs(run);
                run = 1;
            }
        }

        return tied;
    }
}
