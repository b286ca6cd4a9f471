using System.Buffers;
using System.Text;
using Cardassay.Collector.Storage;
using Google.Protobuf;

namespace Cardassay.Collector.Intake;

/// <summary>The records of one message on their way into the intake log, as its entries. Disposed when they are appended.</summary>
internal sealed class Arrivals : IDisposable
{
    /// <summary>More than an entry takes beyond the record and the board's name: tags, lengths and two numbers.</summary>
    private const int EntryOverhead = 64;

    private readonly List<Arrival> _all = [];
    private readonly byte[] _buffer;
    private int _used;
    private ReadOnlyMemory<byte> _epochBytes;
    private string _epoch = "";

    private Arrivals(int bytes) => _buffer = ArrayPool<byte>.Shared.Rent(bytes);

    /// <summary>In the order of the message, up to the first record that breaks the protocol.</summary>
    internal IReadOnlyList<Arrival> All => _all;

    /// <summary>What is wrong with the record behind the last; null when nothing is.</summary>
    internal string? Wrong { get; private set; }

    /// <summary>The records of a message from a board.</summary>
    internal static Arrivals Of(string board, IReadOnlyList<WireRecord> records, long clockOffsetNs, long nowUnixNs)
    {
        int name = Encoding.UTF8.GetByteCount(board);
        var arrivals = new Arrivals(records.Sum(record => record.Encoded.Length + name + EntryOverhead));
        var delivered = new V1.DeliveredAsItCame { Board = board, ClockOffsetNs = clockOffsetNs };
        var entry = new V1.IntakeEntryAsItCame { ReceivedUnixNs = nowUnixNs, Delivered = delivered };
        foreach (WireRecord record in records)
        {
            arrivals.Wrong = EntryStore.WhatIsWrong(record.Epoch.Length, record.BootId.Length, record.Sequence, record.Payload.Length);
            if (arrivals.Wrong is not null)
            {
                break;
            }

            delivered.Record = UnsafeByteOperations.UnsafeWrap(record.Encoded); // read only, and written out in the next line
            arrivals.Add(board, record, entry, isConflicting: false);
        }

        return arrivals;
    }

    /// <summary>The records among entries that came from another collector.</summary>
    internal static Arrivals Of(IReadOnlyList<V1.IntakeEntry> entries)
    {
        var arrivals = new Arrivals(entries.Sum(entry => entry.CalculateSize()));
        foreach (V1.IntakeEntry entry in entries)
        {
            V1.Delivered delivered = entry.Delivered;
            arrivals.Add(BoardOrigin.Join(delivered.Board, delivered.Origin), WireRecord.Read(delivered.Record.ToByteString()), entry, delivered.Conflicting);
        }

        return arrivals;
    }

    /// <inheritdoc/>
    public void Dispose() => ArrayPool<byte>.Shared.Return(_buffer);

    private void Add(string board, in WireRecord record, IMessage entry, bool isConflicting)
    {
        int size = entry.CalculateSize();
        entry.WriteTo(_buffer.AsSpan(_used, size));
        _all.Add(new Arrival(board, Epoch(record.Epoch), record, _buffer.AsMemory(_used, size), isConflicting));
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
}
