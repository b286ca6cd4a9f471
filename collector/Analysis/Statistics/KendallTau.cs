using System.Numerics;

namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>Kendall's tau-b in n log n steps (Knight, JASA 1966).</summary>
public static class KendallTau
{
    // Below this, inserting beats merging.
    private const int SmallSort = 24;

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

        long discordant = SortCountingInversions(b, new int[n], new double[n], new int[n]);
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

    /// <summary>Pairs of a permutation that are in the wrong order: for each place, those above it that came before.</summary>
    /// <param name="places">The permutation.</param>
    /// <param name="seen">Room for as many bits.</param>
    internal static long Inversions(ReadOnlySpan<int> places, Span<ulong> seen)
    {
        seen.Clear();
        long count = 0;
        foreach (int place in places)
        {
            int word = place >> 6;
            count += BitOperations.PopCount(seen[word] >> place); // a shift takes the last six bits of its count, and the place itself is not there yet
            for (int w = word + 1; w < seen.Length; w++)
            {
                count += BitOperations.PopCount(seen[w]);
            }

            seen[word] |= 1UL << place;
        }

        return count;
    }

    /// <summary>Sorts ascending by merging, items alongside, and counts the pairs that were in the wrong order; equal values are in order.</summary>
    /// <param name="values">Values; sorted afterwards.</param>
    /// <param name="items">Items that move with them.</param>
    /// <param name="spare">Room of the same length.</param>
    /// <param name="spareItems">Room of the same length.</param>
    internal static long SortCountingInversions(Span<double> values, Span<int> items, Span<double> spare, Span<int> spareItems)
    {
        int n = values.Length;
        if (n <= SmallSort)
        {
            return InsertCountingInversions(values, items);
        }

        int middle = n / 2;
        long count = SortCountingInversions(values[..middle], items[..middle], spare[..middle], spareItems[..middle])
            + SortCountingInversions(values[middle..], items[middle..], spare[middle..], spareItems[middle..]);
        int i = 0, j = middle;
        for (int k = 0; k < n; k++)
        {
            bool right = i >= middle || (j < n && values[j] < values[i]);
            count += right ? middle - i : 0;
            (spare[k], spareItems[k]) = right ? (values[j], items[j]) : (values[i], items[i]);
            (i, j) = right ? (i, j + 1) : (i + 1, j);
        }

        spare.CopyTo(values);
        spareItems.CopyTo(items);
        return count;
    }

    private static long InsertCountingInversions(Span<double> values, Span<int> items)
    {
        long count = 0;
        for (int i = 1; i < values.Length; i++)
        {
            double value = values[i];
            int item = items[i], j = i;
            for (; j > 0 && values[j - 1] > value; j--)
            {
                values[j] = values[j - 1];
                items[j] = items[j - 1];
            }

            (values[j], items[j]) = (value, item);
            count += i - j;
        }

        return count;
    }
}
