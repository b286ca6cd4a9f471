namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>The figures shown beside every median (METHOD rule 1).</summary>
/// <param name="N">Number of values, at least 1.</param>
/// <param name="Median">Median.</param>
/// <param name="Minimum">Smallest value.</param>
/// <param name="Maximum">Largest value.</param>
/// <param name="Mad">Median absolute deviation from the median, not scaled to a standard deviation.</param>
/// <param name="Mean">Arithmetic mean; used for <paramref name="Cv"/> only.</param>
/// <param name="Cv">Sample standard deviation (n - 1) over mean, 0.05 is 5 %; null for one value or a mean of 0.</param>
public readonly record struct Summary(int N, double Median, double Minimum, double Maximum, double Mad, double Mean, double? Cv)
{
    /// <summary>Summarises at least one value; the order does not matter.</summary>
    /// <exception cref="ArgumentException">No value.</exception>
    public static Summary Of(IReadOnlyCollection<double> values)
    {
        if (values.Count == 0)
        {
            throw new ArgumentException("A summary needs at least one value.", nameof(values));
        }

        double[] sorted = [.. values];
        double median = MedianInPlace(sorted), mad = MedianInPlace(Array.ConvertAll(sorted, v => Math.Abs(v - median)));

        // Two passes around the mean: NIST's NumAcc data sets defeat the sum of squares.
        double mean = MeanOf(sorted);
        double? cv = sorted.Length > 1 && mean != 0 ? StandardDeviation(sorted, mean) / Math.Abs(mean) : null;
        return new Summary(sorted.Length, median, sorted[0], sorted[^1], mad, mean, cv);
    }

    /// <summary>Median of values in any order; they are not changed.</summary>
    public static double MedianOf(IReadOnlyCollection<double> values) => MedianInPlace([.. values]);

    /// <summary>Median of values, which are in ascending order afterwards.</summary>
    internal static double MedianInPlace(Span<double> values)
    {
        values.Sort();
        return MedianOfSorted(values);
    }

    /// <summary>Median and MAD of at least one value.</summary>
    /// <param name="values">The values.</param>
    /// <param name="room">Room for as many.</param>
    internal static (double Median, double Mad) MedianAndMad(ReadOnlySpan<double> values, Span<double> room)
    {
        Span<double> copy = room[..values.Length];
        values.CopyTo(copy);
        double median = MedianInPlace(copy);
        for (int i = 0; i < copy.Length; i++)
        {
            copy[i] = Math.Abs(copy[i] - median);
        }

        return (median, MedianInPlace(copy));
    }

    /// <summary>Median of values in ascending order.</summary>
    public static double MedianOfSorted(ReadOnlySpan<double> sorted) =>
        sorted.Length % 2 == 1 ? sorted[sorted.Length / 2] : (sorted[sorted.Length / 2 - 1] + sorted[sorted.Length / 2]) / 2;

    /// <summary>Sample standard deviation (n - 1) of at least two values around their mean.</summary>
    public static double StandardDeviation(ReadOnlySpan<double> values)
    {
        return StandardDeviation(values, MeanOf(values));
    }

    /// <summary>Arithmetic mean, corrected once by the mean of the residuals.</summary>
    public static double MeanOf(ReadOnlySpan<double> values)
    {
        double sum = 0;
        foreach (double value in values)
        {
            sum += value;
        }

        double first = sum / values.Length;
        double rest = 0;
        foreach (double value in values)
        {
            rest += value - first;
        }

        return first + rest / values.Length;
    }

    private static double StandardDeviation(ReadOnlySpan<double> values, double mean)
    {
        double squares = 0;
        foreach (double value in values)
        {
            squares += (value - mean) * (value - mean);
        }

        return Math.Sqrt(squares / (values.Length - 1));
    }
}
