using Cardassay.Judging;
using Cardassay.Trials;

namespace Cardassay.Wire;

/// <summary>The comparisons of two slots as messages and back.</summary>
public static class SlotPairCodec
{
    /// <summary>As messages.</summary>
    /// <param name="comparisons">The comparisons.</param>
    /// <param name="disk">The disk that is named first in the pair.</param>
    public static IEnumerable<V1.SlotComparison> ToMessages(IEnumerable<SlotComparison> comparisons, string disk) => comparisons.Select(c => new V1.SlotComparison
    {
        Other = c.Disk != disk,
        Kind = (uint)c.Kind,
        BesideKind = (uint)c.BesideKind,
        Rounds = (uint)c.Rounds,
        MeanLogRatio = c.MeanLogRatio,
        SdLogRatio = c.SdLogRatio,
        StallsTogether = (ulong)c.Together.Stalls,
        SecondsTogether = c.Together.Seconds,
        StallsAlone = (ulong)c.Alone.Stalls,
        SecondsAlone = c.Alone.Seconds,
    });

    /// <summary>
    /// The comparisons a board sent. Numbers no test can have come to count as no rounds, kinds of trials this version does not know as none: such a
    /// comparison shows nothing.
    /// </summary>
    public static IReadOnlyList<SlotComparison> Comparisons(V1.SlotPair pair) => [.. pair.Comparisons.Select(c => new SlotComparison(
        c.Other ? pair.OtherDiskName : pair.DiskName,
        (TrialKind)c.Kind,
        c.Other ? pair.DiskName : pair.OtherDiskName,
        (TrialKind)c.BesideKind,
        IsSound(c) ? (int)Math.Min(c.Rounds, 1_000_000) : 0,
        IsSound(c) ? c.MeanLogRatio : 0,
        IsSound(c) ? c.SdLogRatio : 0,
        new StallCount((long)Math.Min(c.StallsTogether, 1_000_000), Seconds(c.SecondsTogether)),
        new StallCount((long)Math.Min(c.StallsAlone, 1_000_000), Seconds(c.SecondsAlone)))).Where(c => IsKnown(c.Kind) && IsKnown(c.BesideKind))];

    private static bool IsKnown(TrialKind kind) => kind != 0 && Enum.IsDefined(kind);

    private static bool IsSound(V1.SlotComparison c) => double.IsFinite(c.MeanLogRatio) && double.IsFinite(c.SdLogRatio) && c.SdLogRatio >= 0 && c.SecondsTogether > 0 && c.SecondsAlone > 0;

    private static double Seconds(double seconds) => double.IsFinite(seconds) ? Math.Clamp(seconds, 1e-9, 1e9) : 1e-9;
}
