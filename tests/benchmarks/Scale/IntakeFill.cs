using Cardassay.Collector.Intake;
using Cardassay.Journal;
using Cardassay.Wire;

namespace Cardassay.Benchmarks.Scale;

/// <summary>Writes an intake log as years of delivery leave it, without the delivery.</summary>
internal static class IntakeFill
{
    internal static RecordLog Open(string folder) => RecordLog.Open(new RealLogDisk(Directory.CreateDirectory(folder).FullName), new LogOptions
    {
        MaxBytes = 0,
        SchemaVersion = ProtocolVersion.Schema,
        NewEpoch = () => new LogEpoch(Guid.NewGuid()),
    });

    /// <summary>Appends the records as delivered by one board after the other, and returns how many.</summary>
    internal static long Fill(RecordLog log, IEnumerable<byte[]> payloads, byte[] epoch, string board)
    {
        ulong sequence = 0;
        foreach (byte[] payload in payloads)
        {
            V1.Record record = BoardRecords.Record(epoch, ++sequence, payload);
            log.Append(new LogStamp((long)sequence, record.WallUnixNs, Guid.Empty), IntakeCodec.Encode(new V1.IntakeEntry
            {
                ReceivedUnixNs = record.WallUnixNs + 1_000_000,
                Delivered = new V1.Delivered { Board = board, Record = record },
            }));
            if (sequence % 10_000 == 0)
            {
                log.Flush();
            }
        }

        log.Flush();
        return (long)sequence;
    }
}
