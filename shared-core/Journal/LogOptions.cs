namespace Cardassay.Journal;

/// <summary>How a log is kept.</summary>
public sealed record LogOptions
{
    /// <summary>
    /// Length at which a new segment file is begun, bytes; 4 KiB to 1 GiB, default 4 MiB. A longer
    /// record gets a segment of its own.
    /// </summary>
    public long SegmentBytes { get; init; } = 4L << 20;

    /// <summary>
    /// Most the log may take on its disk, bytes; at least two segments. Null: the smaller of 2 GiB and a fifth of what is free or already
    /// the log's when it is opened, but at least four segments, so that a start on a full disk leaves room for later. 0: no limit
    /// but the disk.
    /// </summary>
    public long? MaxBytes { get; init; }

    /// <summary>
    /// Longest payload taken, bytes; at most and by default 1 MiB less 4 KiB, so that a message holding it stays below 1 MiB.
    /// </summary>
    public int MaxPayloadBytes { get; init; } = RecordFormat.MaxPayloadBytes;

    /// <summary>
    /// How much is read and checked when the log is opened, newest first, bytes; default 32 MiB, so that a start stays short. The
    /// newest segment is always checked; what is left unchecked is checked when it is read.
    /// </summary>
    public long VerifyAtOpenBytes { get; init; } = 32L << 20;

    /// <summary>Version of the payload's schema, written with each record; 1 or more.</summary>
    public required int SchemaVersion { get; init; }

    /// <summary>Makes the 128 random bits of a new epoch. Must never give the same value twice.</summary>
    public required Func<LogEpoch> NewEpoch { get; init; }

    /// <summary>
    /// True lets nothing count as durable unless the file that was synced is still the file at its path: <see cref="LogMovedException"/>
    /// until it is again. Default false.
    /// </summary>
    public bool RequireInPlace { get; init; }

    /// <summary>
    /// How far the log reached as somebody else remembers it, so that records which are gone without a trace are listed as lost and their
    /// sequences are not used again. Null, the default: nobody remembers.
    /// </summary>
    public LogPosition? KnownThrough { get; init; }

    /// <exception cref="ArgumentOutOfRangeException">A value is outside its range; the message names it.</exception>
    internal void Validate()
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(SegmentBytes, 4L << 10);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(SegmentBytes, 1L << 30);
        if (MaxBytes is not (null or 0))
        {
            ArgumentOutOfRangeException.ThrowIfLessThan(MaxBytes.Value, 2 * SegmentBytes, nameof(MaxBytes));
        }

        ArgumentOutOfRangeException.ThrowIfNegative(MaxPayloadBytes);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(MaxPayloadBytes, RecordFormat.MaxPayloadBytes);
        ArgumentOutOfRangeException.ThrowIfNegative(VerifyAtOpenBytes);
        ArgumentOutOfRangeException.ThrowIfLessThan(SchemaVersion, 1);
    }
}
