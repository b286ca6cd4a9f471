using System.Buffers;
using System.Runtime.InteropServices;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Storage;
using Google.Protobuf;

namespace Cardassay.Collector.Intake;

/// <summary>The records of one message on their way into the intake log, with the entries that are appended for them. Disposed when they are.</summary>
internal sealed class Arrivals : IDisposable
{
    /// <summary>What an agent with much to send puts into a message.</summary>
    private const int UsualRecords = 128;

    private readonly List<Arrival> _all;
    private readonly List<ReadOnlyMemory<byte>> _entries;
    private readonly byte[] _buffer;
    private int _used;
    private ReadOnlyMemory<byte> _epochBytes;
    private string _epoch = "";

    private Arrivals(int records, int bytes)
    {
        _all = new List<Arrival>(records);
        _entries = new List<ReadOnlyMemory<byte>>(records);
        _buffer = ArrayPool<byte>.Shared.Rent(bytes);
    }

    /// <summary>How many there are, up to the first record of the message that breaks the protocol.</summary>
    internal int Count => _all.Count;

    /// <summary>What is wrong with the record behind the last; null when nothing is.</summary>
    internal string? Wrong { get; private set; }

    /// <summary>One of them, in the order of the message.</summary>
    internal Arrival this[int index] => _all[index];

    /// <summary>The records of a message from a board.</summary>
    /// <param name="board">The board in whose name they count.</param>
    /// <param name="records">An encoded <see cref="V1.Records"/>; it may be used again when the arrivals are disposed.</param>
    /// <param name="clockOffsetNs">How far the board's clock is behind this one, ns.</param>
    /// <param name="nowUnixNs">This collector's clock, ns since 1970.</param>
    /// <exception cref="BadRecordException">It is no message of 1 to 256 records.</exception>
    internal static Arrivals Of(string board, ReadOnlyMemory<byte> records, long clockOffsetNs, long nowUnixNs)
    {
        var form = new EntryForm(board, clockOffsetNs, nowUnixNs);
        var arrivals = new Arrivals(UsualRecords, records.Length + (WireRecords.Most * form.MostAround));
        for (var found = new WireRecords(records); found.MoveNext();) // to its end: what is no message is not taken in by half
        {
            WireRecord record = found.Current;
            arrivals.Wrong ??= EntryStore.WhatIsWrong(record.Epoch.Length, record.BootId.Length, record.Sequence, record.Payload.Length, record.Encoded.Length);
            if (arrivals.Wrong is null)
            {
                int size = form.SizeOf(record.Encoded.Length);
                form.Write(arrivals._buffer.AsSpan(arrivals._used, size), record.Encoded.Span);
                arrivals.Add(board, record, size, isConflicting: false);
            }
        }

        return arrivals.Count > 0 || arrivals.Wrong is not null
            ? arrivals
            : throw new BadRecordException($"a message has no record; 1 to {WireRecords.Most} are allowed");
    }

    /// <summary>The records among entries that came from another collector.</summary>
    internal static Arrivals Of(IReadOnlyList<V1.IntakeEntry> entries)
    {
        var arrivals = new Arrivals(entries.Count, entries.Sum(entry => entry.CalculateSize()));
        foreach (V1.IntakeEntry entry in entries)
        {
            V1.Delivered delivered = entry.Delivered;
            int size = entry.CalculateSize();
            entry.WriteTo(arrivals._buffer.AsSpan(arrivals._used, size));
            arrivals.Add(BoardOrigin.Join(delivered.Board, delivered.Origin), WireRecord.Read(delivered.Record.ToByteArray()), size, delivered.Conflicting);
        }

        return arrivals;
    }

    /// <summary>What is appended for some of them: encoded <see cref="V1.IntakeEntry"/>.</summary>
    internal ReadOnlySpan<ReadOnlyMemory<byte>> Entries(int first, int count) =>
        CollectionsMarshal.AsSpan(_entries).Slice(first, count);

    /// <summary>What is appended for one whose key came with another content before.</summary>
    internal byte[] ConflictingEntry(int index)
    {
        V1.IntakeEntry entry = V1.IntakeEntry.Parser.ParseFrom(_entries[index].Span);
        entry.Delivered.Conflicting = true;
        return IntakeCodec.Encode(entry);
    }

    /// <inheritdoc/>
    public void Dispose() => ArrayPool<byte>.Shared.Return(_buffer);

    private void Add(string board, in WireRecord record, int size, bool isConflicting)
    {
        _all.Add(new Arrival(
            board, new RecordKey(Epoch(record.Epoch), (long)record.Sequence), record.Payload, IntakeCodec.LostRangeOf(record.Payload.Span), isConflicting));
        _entries.Add(_buffer.AsMemory(_used, size));
        _used += size;
    }

    /// <summary>Neighbours mostly share their epoch: one text serves them all.</summary>
    private string Epoch(ReadOnlyMemory<byte> epoch)
    {
        if (!epoch.Span.SequenceEqual(_epochBytes.Span))
        {
            _epochBytes = epoch;
            _epoch = Convert.ToHexStringLower(epoch.Span);
        }

        return _epoch;
    }

    /// <summary>What the entries of one message share: an <see cref="V1.IntakeEntry"/> as the library writes it, around each record as it came.</summary>
    private readonly struct EntryForm
    {
        private const int MostFieldHead = 1 + 5; // tag, and the length as a number of 32 bits

        private readonly byte[] _received;
        private readonly byte[] _board;
        private readonly byte[] _clockOffset;

        internal EntryForm(string board, long clockOffsetNs, long nowUnixNs)
        {
            _received = new V1.IntakeEntry { ReceivedUnixNs = nowUnixNs }.ToByteArray();
            _board = new V1.Delivered { Board = board }.ToByteArray();
            _clockOffset = new V1.Delivered { ClockOffsetNs = clockOffsetNs }.ToByteArray();
        }

        /// <summary>What an entry takes beyond its record, at the most.</summary>
        internal int MostAround => _received.Length + _board.Length + _clockOffset.Length + (2 * MostFieldHead);

        internal int SizeOf(int recordBytes) => _received.Length + Field(Delivered(recordBytes));

        internal void Write(Span<byte> to, ReadOnlySpan<byte> record)
        {
            var entry = new WireWriter(to);
            entry.Raw(_received);
            entry.Length(V1.IntakeEntry.DeliveredFieldNumber, Delivered(record.Length));
            entry.Raw(_board);
            entry.Bytes(V1.Delivered.RecordFieldNumber, record);
            entry.Raw(_clockOffset);
        }

        private static int Field(int bytes) => 1 + WireWriter.SizeOf((uint)bytes) + bytes;

        private int Delivered(int recordBytes) => _board.Length + Field(recordBytes) + _clockOffset.Length;
    }
}
