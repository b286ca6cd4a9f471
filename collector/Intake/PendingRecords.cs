using Cardassay.Collector.Analysis;
using Cardassay.Collector.Storage;
using Cardassay.Journal;

namespace Cardassay.Collector.Intake;

/// <summary>
/// What is in the intake log but not yet in the store, so that what comes again is known. Not thread-safe: its owner locks.
/// </summary>
/// <param name="log">The intake log.</param>
/// <param name="applied">How much of it the store holds.</param>
/// <param name="most">
/// So many are let go, for the memory they take: with a database that is away for long what is new is received as ever, and what comes again is
/// put off until the database has come so far.
/// </param>
internal sealed class PendingRecords(RecordLog log, IntakePosition applied, int most)
{
    /// <summary>Most that are kept by default, some 80 bytes each.</summary>
    internal const int Most = 1_000_000;

    /// <summary>By epoch, whose name is kept once, and sequence.</summary>
    private readonly Dictionary<string, Dictionary<long, ContentHash>> _hashes = new(StringComparer.Ordinal);
    private readonly HashSet<(RecordKey Key, ContentHash Hash)> _conflicts = [];
    private int _count; // of hashes
    private IntakePosition _letGo = applied;

    /// <summary>Notes a record that was appended.</summary>
    internal void Add(RecordKey key, ContentHash hash)
    {
        if (!_hashes.TryGetValue(key.Epoch, out Dictionary<long, ContentHash>? ofEpoch))
        {
            _hashes[key.Epoch] = ofEpoch = [];
        }

        _count += ofEpoch.TryAdd(key.Sequence, hash) ? 1 : 0;
    }

    /// <summary>Notes a content that was appended as a conflict.</summary>
    internal void AddConflict(RecordKey key, ContentHash hash) => _conflicts.Add((key, hash));

    /// <summary>The content that waits under a key; null when none does.</summary>
    internal ContentHash? HashOf(RecordKey key) =>
        _hashes.TryGetValue(key.Epoch, out Dictionary<long, ContentHash>? ofEpoch) && ofEpoch.TryGetValue(key.Sequence, out ContentHash hash) ? hash : null;

    internal bool HasConflict(RecordKey key, ContentHash hash) => _conflicts.Contains((key, hash));

    /// <summary>
    /// Whether a store that holds so much of the log lacks records that are not kept here any more: it is being made again, or was away for
    /// long, and cannot say what came before.
    /// </summary>
    internal bool AreMissingFrom(IntakePosition applied)
    {
        if (applied.Epoch == _letGo.Epoch)
        {
            return applied.Sequence < _letGo.Sequence;
        }

        List<string> epochs = [.. log.Epochs().Select(e => e.Epoch.ToString())]; // oldest first; a store that holds nothing is in none
        return epochs.IndexOf(applied.Epoch) < epochs.IndexOf(_letGo.Epoch);
    }

    /// <summary>Lets go what the store has now.</summary>
    internal void Forget(StoreBatch applied)
    {
        foreach (StoredRecord record in applied.Records)
        {
            if (record.Conflicting)
            {
                _conflicts.Remove((record.Key, ContentHash.FromBytes(record.Hash)));
            }
            else if (_hashes.TryGetValue(record.Key.Epoch, out Dictionary<long, ContentHash>? ofEpoch) && ofEpoch.Remove(record.Key.Sequence))
            {
                _count--;
                if (ofEpoch.Count == 0)
                {
                    _hashes.Remove(record.Key.Epoch);
                }
            }
        }

        // Of an earlier log, which is projected again, nothing waits here.
        if (applied.Through.Epoch == log.Epoch.ToString() && (_letGo.Epoch != applied.Through.Epoch || _letGo.Sequence < applied.Through.Sequence))
        {
            _letGo = applied.Through;
        }
    }

    /// <summary>Keeps the memory bounded. Not between <see cref="AreMissingFrom"/> and the questions that follow it.</summary>
    internal void LetGoWhenFull()
    {
        if (_count + _conflicts.Count >= most)
        {
            _hashes.Clear();
            _conflicts.Clear();
            _count = 0;
            _letGo = new IntakePosition(log.Epoch.ToString(), log.LastSequence);
        }
    }
}
