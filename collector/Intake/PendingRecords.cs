using Cardassay.Collector.Analysis;
using Cardassay.Collector.Storage;
using Cardassay.Journal;

namespace Cardassay.Collector.Intake;

/// <summary>
/// Which records are in the intake log but not yet in the store, where one that comes again is looked for. Only their places are kept:
/// millions can wait, and few ever come again. Not thread-safe: its owner locks.
/// </summary>
internal sealed class PendingRecords(RecordLog log)
{
    private readonly Dictionary<string, List<Run>> _runs = new(StringComparer.Ordinal);
    private readonly HashSet<(RecordKey Key, ContentHash Hash)> _conflicts = [];

    private int _count;
    private long _forgotten;

    /// <summary>The run that was read last: a board that sends a message again sends all of it.</summary>
    private (Run Run, Dictionary<long, ContentHash> Hashes)? _read;

    /// <summary>Notes records with consecutive sequences of one epoch, which lie one behind the other in the log.</summary>
    /// <param name="epoch">Their epoch.</param>
    /// <param name="first">Sequence of the first.</param>
    /// <param name="count">How many there are.</param>
    /// <param name="at">Sequence of the first in the log.</param>
    internal void Add(string epoch, long first, int count, long at)
    {
        if (!_runs.TryGetValue(epoch, out List<Run>? runs))
        {
            _runs[epoch] = runs = [];
        }

        var run = new Run(first, count, at);
        int place = runs.Count;
        while (place > 0 && runs[place - 1].First > first)
        {
            place--; // one that stood beyond a hole came before
        }

        runs.Insert(place, run);
        _count++;
    }

    /// <summary>Notes a content that conflicts; false when it was noted before.</summary>
    internal bool AddConflict(RecordKey key, ContentHash hash) => _conflicts.Add((key, hash));

    internal bool HasConflict(RecordKey key, ContentHash hash) => _conflicts.Contains((key, hash));

    /// <summary>Hash of a record's payload, read from the log; null when the record does not wait here, or cannot be read there.</summary>
    /// <exception cref="LogFsyncException">The log could not be made durable, which what is read from it must be.</exception>
    internal ContentHash? HashOf(RecordKey key)
    {
        if (!_runs.TryGetValue(key.Epoch, out List<Run>? runs) || Find(runs, key.Sequence) is not { } run)
        {
            return null;
        }

        if (_read is not { } read || read.Run != run)
        {
            _read = read = (run, Read(run));
        }

        return read.Hashes.TryGetValue(key.Sequence, out ContentHash hash) ? hash : null;
    }

    /// <summary>
    /// Lets go what the store has now: at the end of the log, and before it whenever as many records were stored as runs are to be looked
    /// through, so that a flood of small messages costs no more than it brings.
    /// </summary>
    internal void Forget(StoreBatch applied)
    {
        foreach (StoredRecord record in applied.Records.Where(record => record.Conflicting))
        {
            _conflicts.Remove((record.Key, ContentHash.FromBytes(record.Hash)));
        }

        long through = applied.Through.Sequence;
        if (applied.Through.Epoch != log.Epoch.ToString() || (through < log.LastSequence && through - _forgotten < _count))
        {
            return; // of an earlier log, which is projected again, nothing waits here
        }

        _forgotten = through;
        foreach ((string epoch, List<Run> runs) in _runs)
        {
            _count -= runs.RemoveAll(run => run.LastAt <= through);
            if (runs.Count == 0)
            {
                _runs.Remove(epoch); // which enumerating a dictionary allows
            }
        }
    }

    private static Run? Find(List<Run> runs, long sequence)
    {
        int low = 0;
        int high = runs.Count;
        while (low < high)
        {
            int middle = (low + high) / 2;
            (low, high) = runs[middle].Last < sequence ? (middle + 1, high) : (low, middle);
        }

        return low < runs.Count && runs[low].First <= sequence ? runs[low] : null;
    }

    private Dictionary<long, ContentHash> Read(Run run)
    {
        if (run.LastAt > log.DurableSequence)
        {
            log.Flush(); // whoever brought them is waiting for just that, so that a failure ends the process
        }

        var hashes = new Dictionary<long, ContentHash>();
        foreach (LogRecord record in log.Read(log.Epoch, run.At).TakeWhile(record => record.Sequence <= run.LastAt))
        {
            hashes[run.First + record.Sequence - run.At] = ContentHash.Of(V1.IntakeEntry.Parser.ParseFrom(record.Payload.Span).Delivered.Record.Payload.Span);
        }

        return hashes;
    }

    /// <param name="First">Sequence of the first record in its epoch.</param>
    /// <param name="Count">Records.</param>
    /// <param name="At">Sequence of the first record in the log.</param>
    private readonly record struct Run(long First, int Count, long At)
    {
        internal long Last => First + Count - 1;

        internal long LastAt => At + Count - 1;
    }
}
