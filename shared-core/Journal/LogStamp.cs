namespace Cardassay.Journal;

/// <summary>When a record was made, as its maker's clocks said.</summary>
/// <param name="MonotonicNs">Nanoseconds of the monotonic clock; only comparable within one <paramref name="BootId"/>.</param>
/// <param name="WallUnixNs">Nanoseconds since 1970 by the wall clock, which may be wrong by years; never used for order.</param>
/// <param name="BootId">The kernel's boot id (<c>/proc/sys/kernel/random/boot_id</c>).</param>
public readonly record struct LogStamp(long MonotonicNs, long WallUnixNs, Guid BootId);
