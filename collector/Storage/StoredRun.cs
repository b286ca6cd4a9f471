using System.Buffers.Binary;
using System.IO.Hashing;
using Cardassay.Wire;

namespace Cardassay.Collector.Storage;

/// <summary>Which records of a run a store holds, and what is kept of them so that they need not be read.</summary>
/// <param name="Key">Which run, journal and board.</param>
/// <param name="First">Lowest sequence.</param>
/// <param name="Last">Highest sequence; records of other runs may lie between.</param>
/// <param name="Records">How many there are.</param>
/// <param name="Fingerprint">Of all of them, in whatever order they came.</param>
/// <param name="IsClosed">True once the record that closes the run is there.</param>
public sealed record StoredRun(RunKey Key, long First, long Last, long Records, long Fingerprint, bool IsClosed)
{
    /// <summary>What is kept of the records; null where nothing is, or nothing that can be used.</summary>
    public byte[]? Kept { get; init; }

    /// <summary>True where something is kept that cannot be used: it is damaged.</summary>
    public bool IsSpoilt { get; init; }

    /// <summary>The runs that records belong to, each once.</summary>
    internal static IReadOnlyCollection<StoredRun> Of(IEnumerable<StoredRecord> records)
    {
        var runs = new Dictionary<RunKey, StoredRun>();
        foreach (StoredRecord record in records)
        {
            var next = new StoredRun(
                RunKey.Of(record), record.Key.Sequence, record.Key.Sequence, 1, PrintOf(record),
                ObservationHeads.ClosesRun(record.Payload));
            runs[next.Key] = runs.TryGetValue(next.Key, out StoredRun? known) ? known.With(next) : next;
        }

        return runs.Values;
    }

    /// <summary>The run with more records of it, which makes what was kept of it outdated.</summary>
    internal StoredRun With(StoredRun more) => new(
        Key, Math.Min(First, more.First), Math.Max(Last, more.Last),
        Records + more.Records, Fingerprint ^ more.Fingerprint, IsClosed || more.IsClosed);

    /// <summary>Everything of a record that anything is made of.</summary>
    private static long PrintOf(StoredRecord record)
    {
        Span<byte> bytes = stackalloc byte[(4 * sizeof(long)) + 32];
        BinaryPrimitives.WriteInt64LittleEndian(bytes, record.Key.Sequence);
        BinaryPrimitives.WriteInt64LittleEndian(bytes[8..], record.WallUnixNs);
        BinaryPrimitives.WriteInt64LittleEndian(bytes[16..], record.ReceivedUnixNs);
        BinaryPrimitives.WriteInt64LittleEndian(bytes[24..], record.ClockOffsetNs);
        record.Hash.AsSpan(0, Math.Min(32, record.Hash.Length)).CopyTo(bytes[32..]);
        return (long)XxHash64.HashToUInt64(bytes);
    }
}
