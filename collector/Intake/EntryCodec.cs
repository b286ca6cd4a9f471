using System.Security.Cryptography;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Storage;
using Google.Protobuf;

namespace Cardassay.Collector.Intake;

/// <summary>What a store holds as entries of an intake log, and back: the form in which master data leave and enter a collector.</summary>
internal static class EntryCodec
{
    /// <summary>All entries: records by (epoch, sequence), conflicts, then events in order.</summary>
    internal static IEnumerable<V1.IntakeEntry> All(IRecordStore store) =>
        store.Records().Concat(store.Conflicts()).Select(ToEntry).Concat(store.Events().Select(ToEntry));

    /// <summary>All entries but what a person took back: it leaves this collector no more.</summary>
    internal static IEnumerable<V1.IntakeEntry> Counting(IRecordStore store)
    {
        var regarded = CollectorsRegarded.Of(store.Events());
        return All(store).Where(e => !regarded.IsTakenBack(e.Delivered?.Origin ?? e.OperatorEvent?.Origin ?? e.CollectorEvent?.Origin ?? ""));
    }

    /// <summary>The row of a delivered record.</summary>
    internal static StoredRecord ToRecord(V1.IntakeEntry entry)
    {
        V1.Delivered delivered = entry.Delivered;
        V1.Record record = delivered.Record;
        byte[] payload = record.Payload.ToByteArray();
        return new StoredRecord
        {
            Key = IntakeCodec.KeyOf(record),
            Board = BoardOrigin.Join(delivered.Board, delivered.Origin),
            BootId = Convert.ToHexStringLower(record.BootId.Span),
            Payload = payload,
            Hash = SHA256.HashData(payload),
            WallUnixNs = record.WallUnixNs,
            MonotonicNs = record.MonotonicNs,
            ReceivedUnixNs = entry.ReceivedUnixNs,
            ClockOffsetNs = delivered.ClockOffsetNs,
            Conflicting = delivered.Conflicting,
        };
    }

    /// <summary>The row of what an operator said or the collector noticed; null for any other entry.</summary>
    internal static StoredEvent? ToEvent(V1.IntakeEntry entry, IntakePosition position) => entry.ContentCase switch
    {
        V1.IntakeEntry.ContentOneofCase.OperatorEvent => new StoredEvent(position, entry.ReceivedUnixNs, FromOperator: true, entry.OperatorEvent.ToByteArray()),
        V1.IntakeEntry.ContentOneofCase.CollectorEvent => new StoredEvent(position, entry.ReceivedUnixNs, FromOperator: false, entry.CollectorEvent.ToByteArray()),
        _ => null,
    };

    /// <summary>The entry of a row.</summary>
    internal static V1.IntakeEntry ToEntry(StoredRecord record)
    {
        (string board, string origin) = BoardOrigin.Split(record.Board);
        return new V1.IntakeEntry
        {
            ReceivedUnixNs = record.ReceivedUnixNs,
            Delivered = new V1.Delivered
            {
                Board = board,
                Origin = origin,
                Conflicting = record.Conflicting,
                ClockOffsetNs = record.ClockOffsetNs,
                Record = new V1.Record
                {
                    Epoch = ByteString.CopyFrom(Convert.FromHexString(record.Key.Epoch)),
                    Sequence = (ulong)record.Key.Sequence,
                    MonotonicNs = record.MonotonicNs,
                    WallUnixNs = record.WallUnixNs,
                    BootId = ByteString.CopyFrom(Convert.FromHexString(record.BootId)),
                    Payload = UnsafeByteOperations.UnsafeWrap(record.Payload),
                },
            },
        };
    }

    /// <inheritdoc cref="ToEntry(StoredRecord)"/>
    internal static V1.IntakeEntry ToEntry(StoredEvent e)
    {
        var entry = new V1.IntakeEntry { ReceivedUnixNs = e.AtUnixNs };
        if (e.FromOperator)
        {
            entry.OperatorEvent = V1.OperatorEvent.Parser.ParseFrom(e.Payload);
        }
        else
        {
            entry.CollectorEvent = V1.CollectorEvent.Parser.ParseFrom(e.Payload);
        }

        return entry;
    }
}
