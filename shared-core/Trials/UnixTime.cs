namespace Cardassay.Trials;

/// <summary>Moments as messages and records carry them: nanoseconds since 1970-01-01T00:00:00Z.</summary>
public static class UnixTime
{
    private const int NsPerTick = 100;

    public static long Ns(DateTimeOffset moment) => (moment - DateTimeOffset.UnixEpoch).Ticks * NsPerTick;

    public static DateTimeOffset At(long unixNs) => DateTimeOffset.UnixEpoch.AddTicks(unixNs / NsPerTick);
}
