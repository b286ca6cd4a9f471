using Cardassay.Collector.Analysis;
using Cardassay.Trials;
using Cardassay.Wire;

namespace Cardassay.Collector.Storage;

/// <summary>A place in the intake log. The store remembers how far it has been projected.</summary>
/// <param name="Epoch">Epoch of the intake log, 32 hex digits; "" before the first entry.</param>
/// <param name="Sequence">Sequence within it; 0 before the first entry.</param>
public readonly record struct IntakePosition(string Epoch, long Sequence);

/// <summary>One record of a board, as received.</summary>
public sealed record StoredRecord
{
    /// <summary>Journal epoch and sequence.</summary>
    public required RecordKey Key { get; init; }

    /// <summary>The collector's name of the board that delivered it.</summary>
    public required string Board { get; init; }

    /// <summary>Boot of the board that journaled it, 32 hex digits.</summary>
    public required string BootId { get; init; }

    /// <summary>The observation exactly as journaled.</summary>
    public required byte[] Payload { get; init; }

    /// <summary>SHA-256 of <see cref="Payload"/>.</summary>
    public required byte[] Hash { get; init; }

    /// <summary>The board's wall clock when it journaled, ns since 1970.</summary>
    public long WallUnixNs { get; init; }

    /// <summary>The board's monotonic clock when it journaled, ns.</summary>
    public long MonotonicNs { get; init; }

    /// <summary>The collector's wall clock at receipt, ns since 1970.</summary>
    public long ReceivedUnixNs { get; init; }

    /// <summary>Collector's clock minus the board's at the session's greeting, ns.</summary>
    public long ClockOffsetNs { get; init; }

    /// <summary>True when another content with the same key had been received before.</summary>
    public bool Conflicting { get; init; }

    /// <summary>What was observed; null for a kind this version does not know and for bytes that are no observation, which only the report speaks of.</summary>
    internal Observation? Observed()
    {
        try
        {
            return ObservationCodec.Decode(Payload);
        }
        catch (WireFormatException)
        {
            return null;
        }
    }
}

/// <summary>Something an operator said or the collector noticed, as the encoded event.</summary>
/// <param name="Position">Where it stands in the intake log.</param>
/// <param name="AtUnixNs">Collector's wall clock, ns since 1970.</param>
/// <param name="FromOperator">True for an operator's event, false for one of the collector's own.</param>
/// <param name="Payload">The event as logged.</param>
public sealed record StoredEvent(IntakePosition Position, long AtUnixNs, bool FromOperator, byte[] Payload);

/// <summary>How far one journal epoch has been received without a hole.</summary>
/// <param name="Epoch">32 hex digits.</param>
/// <param name="Board">Who delivered it first.</param>
/// <param name="Through">Every sequence up to this one was received or is known to be lost.</param>
public sealed record StoredMark(string Epoch, string Board, long Through)
{
    /// <summary>
    /// Ranges beyond <see cref="Through"/> that will not come any more, as "first-last first-last" in ascending order; "" for none. They are
    /// kept so that a restart before the mark gets there does not wait for them for ever.
    /// </summary>
    public string Ahead { get; init; } = "";
}

/// <summary>What one step of the projection adds. Applied whole or not at all.</summary>
public sealed record StoreBatch
{
    /// <summary>The intake log has been projected up to here after this batch.</summary>
    public required IntakePosition Through { get; init; }

    /// <summary>Records to add.</summary>
    public IReadOnlyList<StoredRecord> Records { get; init; } = [];

    /// <summary>Events to add.</summary>
    public IReadOnlyList<StoredEvent> Events { get; init; } = [];

    /// <summary>Marks that moved.</summary>
    public IReadOnlyList<StoredMark> Marks { get; init; } = [];
}
