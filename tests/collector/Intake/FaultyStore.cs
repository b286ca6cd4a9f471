using Cardassay.Collector.Analysis;
using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Tests.Intake;

/// <summary>A store whose calls, all of them counted, fail when a test says so; an instance that failed or was disposed stays unusable, as an engine's does.</summary>
internal sealed class FaultyStore(IRecordStore store, Func<string, Exception?> fault) : IRecordStore
{
    private bool _isDead;

    public IntakePosition Applied => Call(nameof(Applied), () => store.Applied);

    public void Apply(StoreBatch batch) => Call(nameof(Apply), () =>
    {
        store.Apply(batch);
        return 0;
    });

    public IReadOnlyDictionary<RecordKey, byte[]> HashesOf(IReadOnlyCollection<RecordKey> keys) => Call(nameof(HashesOf), () => store.HashesOf(keys));

    public bool HasConflict(RecordKey key, ReadOnlySpan<byte> hash)
    {
        byte[] copy = hash.ToArray();
        return Call(nameof(HasConflict), () => store.HasConflict(key, copy));
    }

    public IReadOnlyList<StoredMark> Marks() => Call(nameof(Marks), store.Marks);

    public IEnumerable<StoredRecord> Records() => Call(nameof(Records), store.Records);

    public IReadOnlyCollection<string> Boards() => Call(nameof(Boards), store.Boards);

    public IReadOnlyList<StoredRecord> Conflicts() => Call(nameof(Conflicts), store.Conflicts);

    public IReadOnlyList<StoredEvent> Events() => Call(nameof(Events), store.Events);

    public (long Records, long Conflicts) Count() => Call(nameof(Count), store.Count);

    public void Dispose()
    {
        if (_isDead)
        {
            throw new ObjectDisposedException("the engine");
        }

        Call(nameof(Dispose), () => 0);
        _isDead = true;
    }

    private T Call<T>(string name, Func<T> work)
    {
        ObjectDisposedException.ThrowIf(_isDead, this);
        if (fault(name) is { } wrong)
        {
            _isDead = wrong is not StoreUnavailableException;
            throw wrong;
        }

        return work();
    }
}
