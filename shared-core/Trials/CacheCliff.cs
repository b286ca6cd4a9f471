namespace Cardassay.Trials;

/// <summary>Where a long write became slower.</summary>
/// <param name="AfterBytes">Bytes written before the rate fell, to a bin's precision.</param>
/// <param name="BytesPerSecondBefore">Geometric mean rate before.</param>
/// <param name="BytesPerSecondAfter">Geometric mean rate after.</param>
public readonly record struct Cliff(long AfterBytes, double BytesPerSecondBefore, double BytesPerSecondAfter);

/// <summary>
/// Finds the end of a fast cache in the timeline of a sustained write: rates per 64 MB, the one cut that leaves least variance of
/// their logarithms, and a fall that is large against what is left (common practice, no source).
/// </summary>
public static class CacheCliff
{
    /// <summary>Bytes of one bin: 64 MB.</summary>
    public const long BinBytes = 64_000_000;

    /// <summary>Fewest bins on either side of the cut.</summary>
    public const int LeastBins = 3;

    /// <summary>The rate must fall at least to this part.</summary>
    public const double LeastFall = 0.8;

    private const double NoiseFactor = 3;

    /// <summary>The cliff, or null when there is none or the write was too short.</summary>
    public static Cliff? Find(IReadOnlyList<TimelineSecond> timeline)
    {
        double[] logs = [.. Rates(timeline).Select(rate => Math.Log(rate))];
        int cut = 0;
        double least = double.MaxValue;
        for (int at = LeastBins; at <= logs.Length - LeastBins; at++)
        {
            double left = SquaresAround(logs.AsSpan(0, at), out _) + SquaresAround(logs.AsSpan(at), out _);
            if (left < least)
            {
                (cut, least) = (at, left);
            }
        }

        if (cut == 0)
        {
            return null;
        }

        SquaresAround(logs.AsSpan(0, cut), out double before);
        SquaresAround(logs.AsSpan(cut), out double after);
        double noise = Math.Sqrt(least / (logs.Length - 2));
        return after - before <= Math.Log(LeastFall) && before - after > NoiseFactor * noise
            ? new Cliff(cut * BinBytes, Math.Exp(before), Math.Exp(after))
            : null;
    }

    /// <summary>Rate of each full bin; bytes are taken as spread evenly over their second.</summary>
    private static List<double> Rates(IReadOnlyList<TimelineSecond> timeline)
    {
        var rates = new List<double>();
        double bytes = 0;
        double seconds = 0;
        foreach (TimelineSecond second in timeline)
        {
            double left = second.Bytes;
            double secondLeft = 1;
            while (left > 0 && bytes + left >= BinBytes)
            {
                double taken = BinBytes - bytes;
                double time = secondLeft * taken / left;
                rates.Add(BinBytes / (seconds + time));
                left -= taken;
                secondLeft -= time;
                bytes = 0;
                seconds = 0;
            }

            bytes += left;
            seconds += secondLeft;
        }

        return rates;
    }

    private static double SquaresAround(ReadOnlySpan<double> values, out double mean)
    {
        mean = 0;
        foreach (double value in values)
        {
            mean += value / values.Length;
        }

        double squares = 0;
        foreach (double value in values)
        {
            squares += (value - mean) * (value - mean);
        }

        return squares;
    }
}
