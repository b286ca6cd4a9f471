using System.Globalization;
using Cardassay.Trials;

namespace Cardassay.Judging;

/// <summary>
/// What a long write into space its run had not written before says of the card's fast cache, as a sentence. The same
/// on the board and in the report.
/// </summary>
public static class CliffStatement
{
    /// <summary>A fast part smaller than this is not found, decimal gigabytes.</summary>
    private static readonly string LeastPart = Gigabytes(CacheCliff.LeastBins * CacheCliff.BinBytes);

    /// <summary>The sentence.</summary>
    /// <param name="write">The write up to the rest, valid.</param>
    /// <param name="recovery">The write after it, or null when there was none that is valid.</param>
    /// <param name="restSeconds">The rest between them, seconds; null when it is not known.</param>
    public static string Of(TrialMeasured write, TrialMeasured? recovery, double? restSeconds)
    {
        string rest = restSeconds is { } seconds
            ? string.Create(CultureInfo.InvariantCulture, $"After a rest of {seconds:0.#} s")
            : "After a rest";
        if (CacheCliff.Find(write.Timeline) is not { } cliff)
        {
            string level = $"A long write of {Gigabytes(write.Bytes)} GB at {Rate(write.BytesPerSecond)} MB/s shows no lasting fall: "
                + $"a fast part of less than {LeastPart} GB, or of more than was written, would not show.";
            return recovery is null
                ? level
                : $"{level} {rest} {Gigabytes(recovery.Bytes)} GB more came at {Rate(recovery.BytesPerSecond)} MB/s.";
        }

        string found = $"A long write of {Gigabytes(write.Bytes)} GB was fast for the first {Gigabytes(cliff.AfterBytes)} GB, "
            + $"{Rate(cliff.BytesPerSecondBefore)} MB/s, and {Rate(cliff.BytesPerSecondAfter)} MB/s from there on.";
        return recovery is null ? found : $"{found} {rest} {Recovered(recovery, cliff)}";
    }

    private static string Recovered(TrialMeasured recovery, Cliff cliff) => CacheCliff.FastAgainBytes(recovery.Timeline, cliff) switch
    {
        null => $"{Gigabytes(recovery.Bytes)} GB more came at {Rate(recovery.BytesPerSecond)} MB/s, neither the one rate nor the other.",
        0 => $"none of {Gigabytes(recovery.Bytes)} GB more was fast again.",
        { } bytes when bytes >= recovery.Bytes - CacheCliff.BinBytes - recovery.BytesPerSecond =>
            $"all of {Gigabytes(recovery.Bytes)} GB more was fast again.",
        { } bytes => $"the first {Gigabytes(bytes)} GB of {Gigabytes(recovery.Bytes)} GB more were fast again.",
    };

    private static string Gigabytes(long bytes) => (bytes / 1e9).ToString("0.00", CultureInfo.InvariantCulture);

    private static string Rate(double bytesPerSecond) => (bytesPerSecond / 1e6).ToString("0.0", CultureInfo.InvariantCulture);
}
