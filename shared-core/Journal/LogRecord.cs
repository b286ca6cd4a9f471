namespace Cardassay.Journal;

/// <summary>One record as it was appended.</summary>
public sealed record LogRecord
{
    /// <summary>The series <see cref="Sequence"/> counts in.</summary>
    public required LogEpoch Epoch { get; init; }

    /// <summary>Gapless from 1 within the epoch.</summary>
    public required long Sequence { get; init; }

    /// <summary>Version of the payload's schema, as the writer's options gave it.</summary>
    public required int SchemaVersion { get; init; }

    /// <summary>The writer's clocks.</summary>
    public required LogStamp Stamp { get; init; }

    /// <summary>The bytes exactly as appended; the array is this record's own.</summary>
    public required ReadOnlyMemory<byte> Payload { get; init; }
}

/// <summary>When a record was made, as its maker's clocks said.</summary>
/// <param name="MonotonicNs">Nanoseconds of the monotonic clock; only comparable within one <paramref name="BootId"/>.</param>
/// <param name="WallUnixNs">Nanoseconds since 1970 by the wall clock, which may be wrong by years; never used for order.</param>
/// <param name="BootId">The kernel's boot id (<c>/proc/sys/kernel/random/boot_id</c>).</param>
public readonly record struct LogStamp(long MonotonicNs, long WallUnixNs, Guid BootId);

/// <summary>A place in a log.</summary>
/// <param name="Epoch">The epoch.</param>
/// <param name="Sequence">The sequence within it.</param>
public readonly record struct LogPosition(LogEpoch Epoch, long Sequence);
