namespace Cardassay.Plans;

/// <summary>
/// The long write a plan begins with, before anything else is written: until a fast cache is left, then a rest, then more. It is made once
/// and never repeated, because the space it is written into is then no longer unwritten (DOMAIN 5; all figures common practice, no source).
/// </summary>
/// <param name="Bytes">Most bytes before the rest.</param>
/// <param name="Percent">Most of the card before the rest, percent, above 0 to 90.</param>
/// <param name="RestSeconds">Rest, seconds, 0 to 3,600.</param>
/// <param name="RecoveryBytes">Bytes after the rest, fewer where the card has no room for them; 0 for neither rest nor recovery.</param>
/// <param name="Seconds">Longest time of either write, seconds, 1 to 86,400.</param>
public sealed record PlanCliff(
    long Bytes = PlanCliff.DefaultBytes, double Percent = PlanCliff.DefaultPercent, double RestSeconds = PlanCliff.DefaultRestSeconds,
    long RecoveryBytes = PlanCliff.DefaultRecoveryBytes, double Seconds = PlanCliff.DefaultSeconds)
{
    /// <summary>Default of <see cref="Bytes"/>: 16 GiB.</summary>
    public const long DefaultBytes = 16L << 30;

    /// <summary>Default of <see cref="Percent"/>.</summary>
    public const double DefaultPercent = 50;

    /// <summary>Default of <see cref="RestSeconds"/>.</summary>
    public const double DefaultRestSeconds = 120;

    /// <summary>Default of <see cref="RecoveryBytes"/>: 2 GiB.</summary>
    public const long DefaultRecoveryBytes = 2L << 30;

    /// <summary>Default of <see cref="Seconds"/>: an hour, in which 16 GiB are written at 4.8 MB/s.</summary>
    public const double DefaultSeconds = 3_600;

    /// <summary>
    /// Its place begins on a multiple of this, bytes: the pieces in which the agent keeps what a card has been written with.
    /// </summary>
    public const long PlaceBytes = 64L << 20;

    /// <summary>How much of a target of the given size it writes before and after the rest, bytes, multiples of its block.</summary>
    public (long WriteBytes, long RecoveryBytes) On(long targetBytes, int blockBytes)
    {
        long write = Math.Min(Bytes, (long)(targetBytes * (Percent / 100)));
        write -= write % blockBytes;
        long recovery = Math.Min(RecoveryBytes, targetBytes - write);
        return (write, recovery - (recovery % blockBytes));
    }

    /// <summary>Places it may begin at on a target of the given size, one every <see cref="PlaceBytes"/>; at least 1.</summary>
    public long PlacesOn(long targetBytes, int blockBytes)
    {
        (long write, long recovery) = On(targetBytes, blockBytes);
        return ((targetBytes - write - recovery) / PlaceBytes) + 1;
    }
}
