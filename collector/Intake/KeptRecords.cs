using Cardassay.Collector.Analysis;
using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Intake;

/// <summary>
/// The records of a store as they were read last: what comes is added, so that a report, the page or `status` costs what came since the last
/// one and not everything ever measured. Nothing depends on it: it is read anew whenever the store may hold anything else. Needs the lock of
/// its owner.
/// </summary>
/// <param name="later">Reads from the store when its owner has let go of it.</param>
internal sealed class KeptRecords(ReadRecords later)
{
    private RecordBook? _records;

    /// <summary>What was told last of everything; whoever asks again gets the same, and with it what was made of it.</summary>
    private MasterData? _data;
    private IReadOnlyList<IntakePosition> _stands = [];

    /// <summary>Everything the store holds.</summary>
    internal MasterData Load(IRecordStore store, DateTimeOffset? asOf)
    {
        IReadOnlyList<IntakePosition> stands = store.AppliedOfAll();
        if (_records is null || !stands.SequenceEqual(_stands))
        {
            Drop(); // not two of them in memory
            (_records, _stands) = (RecordBook.Of(store, store.Runs is null ? null : later), stands);
        }

        if (asOf is null && _data is { } same)
        {
            return same;
        }

        MasterData data = MasterDataLoader.Load(store, _records, asOf);
        if (asOf is null)
        {
            _data = data;
        }

        return data;
    }

    /// <summary>Adds what was added to the store.</summary>
    /// <param name="before">Where the store stood before.</param>
    /// <param name="batch">What was added.</param>
    internal void Follow(IntakePosition before, StoreBatch batch)
    {
        // Where several collectors share a store, what the others hold decides which of two contents counts.
        if (_records is null || _stands is not [var only] || only != before)
        {
            Drop();
            return;
        }

        foreach (StoredRecord record in batch.Records.Where(r => !r.Conflicting))
        {
            _records.Add(record);
        }

        (_data, _stands) = (null, [batch.Through]);
    }

    /// <summary>Names of the boards of all records and conflicts, each once; the store is searched for them only where they are not known.</summary>
    internal IReadOnlyCollection<string> Boards(IRecordStore store) => _records is { } records && store.AppliedOfAll().SequenceEqual(_stands)
        ? records.Boards.Union(store.Conflicts().Select(c => c.Board), StringComparer.Ordinal).ToHashSet(StringComparer.Ordinal)
        : store.Boards();

    /// <summary>Forgets everything.</summary>
    internal void Drop() => (_records, _data) = (null, null);
}
