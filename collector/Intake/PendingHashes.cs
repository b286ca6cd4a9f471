using Cardassay.Collector.Analysis;
using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Intake;

/// <summary>What is in the intake log but not yet in the store, where a record that comes again is looked for. Not thread-safe: its owner locks.</summary>
internal sealed class PendingHashes
{
    // By epoch first: a journal's text is hashed once for a run of its records, and its table is let go when the store has caught up.
    private readonly Dictionary<string, Dictionary<long, ContentHash>> _records = new(StringComparer.Ordinal);
    private readonly HashSet<(RecordKey Key, ContentHash Hash)> _conflicts = [];

    /// <summary>Notes records with consecutive sequences of one epoch.</summary>
    internal void Add(IReadOnlyList<Arrival> run)
    {
        string epoch = run[0].Key.Epoch;
        if (!_records.TryGetValue(epoch, out Dictionary<long, ContentHash>? hashes))
        {
            _records[epoch] = hashes = [];
        }

        foreach (Arrival arrival in run)
        {
            hashes[arrival.Key.Sequence] = arrival.Hash;
        }
    }

    /// <summary>Notes a content that conflicts; false when it was noted before.</summary>
    internal bool AddConflict(RecordKey key, ContentHash hash) => _conflicts.Add((key, hash));

    internal bool HasConflict(RecordKey key, ContentHash hash) => _conflicts.Contains((key, hash));

    internal bool TryGet(RecordKey key, out ContentHash hash)
    {
        hash = default;
        return _records.TryGetValue(key.Epoch, out Dictionary<long, ContentHash>? hashes) && hashes.TryGetValue(key.Sequence, out hash);
    }

    /// <summary>Lets go what the store has now.</summary>
    internal void Forget(IReadOnlyList<StoredRecord> applied)
    {
        foreach (StoredRecord record in applied)
        {
            if (record.Conflicting)
            {
                _conflicts.Remove((record.Key, ContentHash.FromBytes(record.Hash)));
            }
            else if (_records.TryGetValue(record.Key.Epoch, out Dictionary<long, ContentHash>? hashes)
                && hashes.Remove(record.Key.Sequence) && hashes.Count == 0)
            {
                _records.Remove(record.Key.Epoch);
            }
        }
    }
}
