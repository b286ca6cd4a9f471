using Cardassay.Collector.Analysis;
using Cardassay.Collector.Storage;
using Cardassay.Collector.Storage.Memory;

namespace Cardassay.Collector.Tests.Intake;

/// <summary>A store in memory that lets a test act before each batch.</summary>
internal sealed class HookedStore(MemoryRecordStore store, Action beforeBatch) : IRecordStore
{
    public IntakePosition Applied => store.Applied;

    public void Apply(StoreBatch batch)
    {
        beforeBatch();
        store.Apply(batch);
    }

    public IReadOnlyDictionary<RecordKey, byte[]> HashesOf(IReadOnlyCollection<RecordKey> keys) => store.HashesOf(keys);

    public bool HasConflict(RecordKey key, ReadOnlySpan<byte> hash) => store.HasConflict(key, hash);

    public IReadOnlyList<StoredMark> Marks() => store.Marks();

    public IEnumerable<StoredRecord> Records() => store.Records();

    public IReadOnlyCollection<string> Boards() => store.Boards();

    public IReadOnlyList<StoredRecord> Conflicts() => store.Conflicts();

    public IReadOnlyList<StoredEvent> Events() => store.Events();

    public (long Records, long Conflicts) Count() => store.Count();

    public void Dispose()
    {
        // The next projection goes on with the same store.
    }
}
