using System.Globalization;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Storage;

namespace Cardassay.Benchmarks.Scale;

/// <summary>A store for reading only, whose records are made up while they are read and kept nowhere.</summary>
internal sealed class MadeUpRecords(int cards, int runsPerCard) : IRecordStore
{
    private const int Group = 100;

    /// <summary>Groups kept for reading runs of them again: it would take longer to make them up for each run.</summary>
    private const int KeptGroups = 4;

    private readonly Lock _gate = new();
    private readonly List<(string Epoch, StoredRecord[] Records)> _kept = [];

    public IntakePosition Applied => new("", 0);

    public IEnumerable<StoredRecord> Records()
    {
        for (int first = 0; first < cards; first += Group)
        {
            foreach (StoredRecord record in Of(1 + (first / Group)))
            {
                yield return record;
            }
        }
    }

    /// <summary>Records of one journal between two sequences, both included.</summary>
    public IEnumerable<StoredRecord> Between(string epoch, long first, long last)
    {
        StoredRecord[]? records;
        lock (_gate)
        {
            records = _kept.Find(k => k.Epoch == epoch).Records;
            if (records is null)
            {
                _kept.RemoveRange(0, Math.Max(0, _kept.Count - KeptGroups + 1));
                _kept.Add((epoch, records = [.. Of(int.Parse(epoch, NumberStyles.HexNumber, CultureInfo.InvariantCulture))]));
            }
        }

        return records.Skip((int)first - 1).Take((int)(last - first + 1));
    }

    private IEnumerable<StoredRecord> Of(int seed)
    {
        int first = (seed - 1) * Group;
        long sequence = 0;
        foreach (byte[] payload in BoardRecords.Payloads(Math.Min(Group, cards - first), runsPerCard, seed, first))
        {
            long ns = 1_772_000_000_000_000_000 + (++sequence * 30_000_000_000);
            yield return new StoredRecord
            {
                // Every text is a new one, as it is when it comes from a database.
                Key = new RecordKey(seed.ToString("x32", CultureInfo.InvariantCulture), sequence),
                Board = string.Create(CultureInfo.InvariantCulture, $"board-{seed:0000}"),
                BootId = new string('0', 32),
                Payload = payload,
                Hash = new byte[32],
                WallUnixNs = ns,
                MonotonicNs = ns,
                ReceivedUnixNs = ns + 1_000_000,
            };
        }
    }

    public IReadOnlyCollection<string> Boards() =>
        [.. Enumerable.Range(0, (cards + Group - 1) / Group).Select(i => string.Create(CultureInfo.InvariantCulture, $"board-{i + 1:0000}"))];

    public IReadOnlyList<StoredRecord> Conflicts() => [];

    public IReadOnlyList<StoredEvent> Events() => [];

    public IReadOnlyList<StoredMark> Marks() => [];

    public (long Records, long Conflicts) Count() => throw new NotSupportedException();

    public void Apply(StoreBatch batch) => throw new NotSupportedException();

    public IReadOnlyDictionary<RecordKey, byte[]> HashesOf(IReadOnlyCollection<RecordKey> keys) => throw new NotSupportedException();

    public bool HasConflict(RecordKey key, ReadOnlySpan<byte> hash) => false;

    public void Dispose()
    {
    }
}
