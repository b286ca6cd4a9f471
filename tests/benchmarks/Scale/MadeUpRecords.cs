using System.Globalization;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Storage;

namespace Cardassay.Benchmarks.Scale;

/// <summary>A store for reading only, whose records are made up while they are read and kept nowhere.</summary>
internal sealed class MadeUpRecords(int cards, int runsPerCard) : IRecordStore
{
    private const int Group = 100;

    public IntakePosition Applied => new("", 0);

    public IEnumerable<StoredRecord> Records()
    {
        for (int first = 0; first < cards; first += Group)
        {
            int seed = 1 + (first / Group);
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
