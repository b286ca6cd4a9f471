namespace Cardassay.Trials;

/// <summary>Where a long write became slower.</summary>
/// <param name="AfterBytes">Bytes written before the rate fell.</param>
/// <param name="BytesPerSecondBefore">Geometric mean rate before.</param>
/// <param name="BytesPerSecondAfter">Geometric mean rate after.</param>
public readonly record struct Cliff(long AfterBytes, double BytesPerSecondBefore, double BytesPerSecondAfter);

/// <summary>
/// Finds the end of a fast cache in the timeline of a long write: rates per 64 MB, the one cut that leaves least variance of
/// their logarithms, and a fall that is large against what is left (common practice, no source). Where within the bins at the cut the
/// rate fell follows from the time they took. The last second of a timeline is left out: the end of the trial cuts it short.
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

    /// <summary>
    /// Bins on either side of the cut that a second of the timeline may straddle: no card in a slot writes more than 104 MB in one.
    /// </summary>
    private const int EdgeBins = 2;

    /// <summary>The cliff, or null when there is none or the write was too short.</summary>
    public static Cliff? Find(IReadOnlyList<TimelineSecond> timeline)
    {
        double[] logs = Logs(timeline);
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

        // The bins at the cut hold both rates; the levels are those of the others.
        SquaresAround(logs.AsSpan(0, Math.Max(1, cut - EdgeBins)), out double before);
        SquaresAround(logs.AsSpan(Math.Min(logs.Length - 1, cut + EdgeBins)), out double after);
        double noise = Math.Sqrt(least / (logs.Length - 2));
        return after - before <= Math.Log(LeastFall) && before - after > NoiseFactor * noise
            ? new Cliff(Edge(logs, cut, before, after), Math.Exp(before), Math.Exp(after))
            : null;
    }

    /// <summary>
    /// Of a write that followed the one with the cliff after a rest: the bytes that were fast again, to half a bin at either end. Null
    /// when it was too short or kept to neither of the two rates within a fifth.
    /// </summary>
    /// <param name="timeline">The later write.</param>
    /// <param name="cliff">The rates of the earlier one.</param>
    public static long? FastAgainBytes(IReadOnlyList<TimelineSecond> timeline, Cliff cliff)
    {
        double[] logs = Logs(timeline);
        if (logs.Length < LeastBins)
        {
            return null;
        }

        double before = Math.Log(cliff.BytesPerSecondBefore);
        double after = Math.Log(cliff.BytesPerSecondAfter);
        int[] cuts = [.. Enumerable.Range(0, logs.Length + 1)];
        int cut = cuts.MinBy(at => logs.Select((log, i) => Math.Pow(log - (i < at ? before : after), 2)).Sum());
        bool fits = Fits(logs.AsSpan(0, Math.Max(0, cut - EdgeBins)), before)
            && Fits(logs.AsSpan(Math.Min(logs.Length, cut + EdgeBins)), after)
            && (cut > 0 || Fits(logs, after)) && (cut < logs.Length || Fits(logs, before));
        if (!fits || cut == 0 || cut == logs.Length)
        {
            return fits ? cut * BinBytes : null;
        }

        long edge = Edge(logs, cut, before, after);
        return edge < BinBytes / 2 ? 0 : edge;
    }

    /// <summary>
    /// Where the rate fell: so many bytes at the one rate and the rest at the other take as long as the bins around the cut took.
    /// </summary>
    private static long Edge(double[] logs, int cut, double before, double after)
    {
        int from = Math.Max(0, cut - EdgeBins);
        int to = Math.Min(logs.Length, cut + EdgeBins);
        double bytes = (to - from) * (double)BinBytes;
        double seconds = 0;
        for (int i = from; i < to; i++)
        {
            seconds += BinBytes / Math.Exp(logs[i]);
        }

        double slow = Math.Exp(-after);
        return (from * BinBytes) + (long)Math.Clamp(((bytes * slow) - seconds) / (slow - Math.Exp(-before)), 0, bytes);
    }

    private static bool Fits(ReadOnlySpan<double> logs, double level)
    {
        SquaresAround(logs, out double mean);
        return logs.Length == 0 || Math.Abs(mean - level) <= -Math.Log(LeastFall);
    }

    /// <summary>Logarithm of the rate of each full bin; bytes are taken as spread evenly over their second.</summary>
    private static double[] Logs(IReadOnlyList<TimelineSecond> timeline)
    {
        var logs = new List<double>();
        double bytes = 0;
        double seconds = 0;
        for (int i = 0; i < timeline.Count - 1; i++)
        {
            double left = timeline[i].Bytes;
            double secondLeft = 1;
            while (left > 0 && bytes + left >= BinBytes)
            {
                double taken = BinBytes - bytes;
                double time = secondLeft * taken / left;
                logs.Add(Math.Log(BinBytes / (seconds + time)));
                left -= taken;
                secondLeft -= time;
                bytes = 0;
                seconds = 0;
            }

            bytes += left;
            seconds += secondLeft;
        }

        return [.. logs];
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
