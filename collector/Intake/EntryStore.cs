using System.Globalization;
using Cardassay.Collector.Storage;
using Cardassay.Collector.Storage.Memory;
using Cardassay.Wire;
using Google.Protobuf;

namespace Cardassay.Collector.Intake;

/// <summary>Puts entries that came from elsewhere into a store of their own, to be analysed as any other.</summary>
internal static class EntryStore
{
    /// <summary>A store that holds the entries in the order given.</summary>
    internal static MemoryRecordStore Of(IEnumerable<V1.IntakeEntry> entries)
    {
        var records = new List<StoredRecord>();
        var events = new List<StoredEvent>();
        foreach (V1.IntakeEntry entry in entries)
        {
            var position = new IntakePosition("copy", records.Count + events.Count + 1);
            if (entry.Delivered is { } delivered)
            {
                if (WhatIsWrong(delivered.Record) is null)
                {
                    records.Add(EntryCodec.ToRecord(entry));
                }
            }
            else if (EntryCodec.ToEvent(entry, position) is { } e)
            {
                events.Add(e); // null: an entry of a later version
            }
        }

        var store = new MemoryRecordStore();
        store.Apply(new StoreBatch { Through = new IntakePosition("copy", records.Count + events.Count), Records = records, Events = events });
        return store;
    }

    /// <summary>What breaks the protocol in a record, as words; null when nothing does.</summary>
    internal static string? WhatIsWrong(V1.Record? record) => record is null ? "it holds no record" : WhatIsWrong(record, record.CalculateSize());

    /// <summary>The same for a record that takes so many bytes as it came.</summary>
    internal static string? WhatIsWrong(V1.Record record, int recordBytes)
    {
        if (record.Epoch.Length != 16)
        {
            return string.Create(CultureInfo.InvariantCulture, $"epoch has {record.Epoch.Length} bytes instead of 16");
        }

        if (record.BootId.Length is not (0 or 16))
        {
            return string.Create(CultureInfo.InvariantCulture, $"boot_id has {record.BootId.Length} bytes instead of 16");
        }

        if (record.Sequence is 0 or > long.MaxValue)
        {
            return string.Create(CultureInfo.InvariantCulture, $"sequence {record.Sequence} is out of range");
        }

        if (record.Payload.Length is 0 or > ProtocolVersion.MaxPayloadBytes)
        {
            return string.Create(CultureInfo.InvariantCulture, $"payload has {record.Payload.Length} bytes; 1 to {ProtocolVersion.MaxPayloadBytes} are allowed");
        }

        return recordBytes > ProtocolVersion.MaxRecordBytes
            ? string.Create(CultureInfo.InvariantCulture, $"record takes {recordBytes} bytes with all its fields; {ProtocolVersion.MaxRecordBytes} are allowed")
            : null;
    }
}
