using Cardassay.Journal;
using Cardassay.Trials;
using Cardassay.Wire;

namespace Cardassay.EmulatedBoard.Harness;

/// <summary>One record by its key and its very bytes, wherever it is kept.</summary>
/// <param name="Epoch">Epoch of the board's journal, 32 hex digits.</param>
/// <param name="Sequence">Sequence in the epoch, from 1.</param>
/// <param name="PayloadHex">The observation as journaled, hex digits.</param>
public sealed record KeptRecord(string Epoch, long Sequence, string PayloadHex)
{
    /// <summary>What the record says.</summary>
    public Observation? Observation => ObservationCodec.Decode(Convert.FromHexString(PayloadHex));

    /// <summary>All entries of a log in a folder that nobody else has open. It may change the folder: give it a copy.</summary>
    public static IReadOnlyList<LogRecord> ReadLog(string folder)
    {
        using RecordLog log = RecordLog.Open(
            new RealLogDisk(folder),
            new LogOptions { SchemaVersion = ProtocolVersion.Schema, NewEpoch = () => new LogEpoch(Guid.Empty), MaxBytes = 0 });
        return [.. log.Epochs().SelectMany(epoch => log.Read(epoch.Epoch, epoch.First))];
    }

    /// <summary>The same records in the order of their keys.</summary>
    public static IEnumerable<KeptRecord> Sorted(IEnumerable<KeptRecord> records) =>
        records.OrderBy(r => r.Epoch, StringComparer.Ordinal).ThenBy(r => r.Sequence);
}
