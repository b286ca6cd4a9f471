using Cardassay.Collector.Analysis;

namespace Cardassay.Collector.Storage;

/// <summary>
/// The projection of the intake log that can be queried. Nothing is written to it that was not in the log first; when the log lost something, it may
/// be the last to hold it, so that nothing but an explicit command empties it. Safe to call from any thread.
/// </summary>
public interface IRecordStore : IDisposable
{
    /// <summary>How far the intake log has been projected.</summary>
    IntakePosition Applied { get; }

    /// <summary>How far each collector that shares the store has projected its log, in one order. What stands the same reads the same.</summary>
    IReadOnlyList<IntakePosition> AppliedOfAll() => [Applied];

    /// <summary>Adds a batch, whole or not at all. Adding the same batch again changes nothing.</summary>
    /// <exception cref="StoreUnavailableException">Nothing was added and nothing is wrong with what is there; try again later.</exception>
    /// <exception cref="StoreDamagedException">What it holds is damaged.</exception>
    /// <exception cref="StoreException">The engine failed; this instance must be disposed and another be opened.</exception>
    void Apply(StoreBatch batch);

    /// <summary>Hashes of those of the keys that this collector stored.</summary>
    IReadOnlyDictionary<RecordKey, byte[]> HashesOf(IReadOnlyCollection<RecordKey> keys);

    /// <summary>True when this collector already keeps this very content as a conflict of the key.</summary>
    bool HasConflict(RecordKey key, ReadOnlySpan<byte> hash);

    /// <summary>The marks of this collector, by epoch.</summary>
    IReadOnlyList<StoredMark> Marks();

    /// <summary>The marks of every collector that shares the store, for counting only: this collector never got those records.</summary>
    IReadOnlyList<StoredMark> MarksOfAll() => Marks();

    /// <summary>
    /// All records that are not conflicts, by (epoch, sequence), those of every collector that shares the store. They are read in sets
    /// while they are enumerated, so that a large laboratory never stands in memory as bytes.
    /// </summary>
    IEnumerable<StoredRecord> Records();

    /// <summary>Names of the boards of all records and conflicts, each once, in no order.</summary>
    IReadOnlyCollection<string> Boards();

    /// <summary>Records kept as conflicts, by (epoch, sequence).</summary>
    IReadOnlyList<StoredRecord> Conflicts();

    /// <summary>All events by time and then in the order of the intake log.</summary>
    IReadOnlyList<StoredEvent> Events();

    /// <summary>The records that this collector stored, as <see cref="Records"/>.</summary>
    IEnumerable<StoredRecord> OwnRecords() => Records();

    /// <summary>The conflicts that this collector stored, as <see cref="Conflicts"/>.</summary>
    IReadOnlyList<StoredRecord> OwnConflicts() => Conflicts();

    /// <summary>The events of this collector's own intake log.</summary>
    IReadOnlyList<StoredEvent> OwnEvents() => Events();

    /// <summary>Which records belong to which run, and what is kept of them; null for a store that does not keep that.</summary>
    IRunIndex? Runs => null;

    /// <summary>Number of records that are not conflicts, and of conflicts.</summary>
    (long Records, long Conflicts) Count();
}
