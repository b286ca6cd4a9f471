using Cardassay.Collector.Analysis;
using Cardassay.Collector.Storage;
using Cardassay.Journal;

namespace Cardassay.Collector.Intake;

/// <summary>
/// Which records are in the intake log but not yet in the store, where one that comes again is looked for. Only their places are kept:
/// millions can wait, and few ever come again. Not thread-safe: its owner locks.
/// </summary>
internal sealed class PendingRecords
{
    /// <summary>Records of the log that are read over rather than looking for the next place anew.</summary>
    private const int Near = 64;

    private readonly RecordLog _log;
    private readonly Dictionary<string, List<Run>> _runs = new(StringComparer.Ordinal);
    private readonly HashSet<(RecordKey Key, ContentHash Hash)> _conflicts = [];
    private int _runCount;
    private IntakePosition _letGo;

    /// <param name="log">The intake log.</param>
    /// <param name="applied">How much of it the store holds.</param>
    internal PendingRecords(RecordLog log, IntakePosition applied)
    {
        _log = log;
        _letGo = applied;
    }

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

        runs.Insert(PlaceOf(runs, first), new Run(first, count, at));
        _runCount++;
    }

    /// <summary>Notes a content that conflicts.</summary>
    internal void AddConflict(RecordKey key, ContentHash hash) => _conflicts.Add((key, hash));

    internal bool HasConflict(RecordKey key, ContentHash hash) => _conflicts.Contains((key, hash));

    /// <summary>
    /// Whether a store that holds so much of the log lacks records that are not kept here any more: it is being made again, and cannot say
    /// what came before.
    /// </summary>
    internal bool AreMissingFrom(IntakePosition applied)
    {
        if (applied.Epoch == _letGo.Epoch)
        {
            return applied.Sequence < _letGo.Sequence;
        }

        List<string> epochs = [.. _log.Epochs().Select(e => e.Epoch.ToString())]; // oldest first; a store that holds nothing is in none
        return epochs.IndexOf(applied.Epoch) < epochs.IndexOf(_letGo.Epoch);
    }

    /// <summary>Hashes of the payloads of those of the keys that wait, read from the log. One that cannot be read there waits no longer.</summary>
    /// <exception cref="LogFsyncException">What is read must be durable, and could not be made so.</exception>
    /// <exception cref="StoreUnavailableException">The log cannot be read.</exception>
    internal Dictionary<RecordKey, ContentHash> HashesOf(IEnumerable<RecordKey> keys)
    {
        var hashes = new Dictionary<RecordKey, ContentHash>();
        (RecordKey Key, long At)[] places = [.. keys.Distinct().Select(key => (key, At: Find(key) is { } run ? run.AtOf(key.Sequence) : 0)).Where(p => p.At > 0).OrderBy(p => p.At)];
        if (places.Length > 0 && places[^1].At > _log.DurableSequence)
        {
            _log.Flush();
        }

        try
        {
            Read(places, hashes);
        }
        catch (IOException e) when (e is not LogFsyncException)
        {
            throw new StoreUnavailableException($"The intake log cannot be read: {e.Message}", e);
        }

        return hashes;
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

        if (applied.Through.Epoch != _log.Epoch.ToString())
        {
            return; // of an earlier log, which is projected again, nothing waits here
        }

        long through = applied.Through.Sequence;
        long since = _letGo.Epoch == applied.Through.Epoch ? _letGo.Sequence : 0;
        if (through <= since || (through < _log.LastSequence && through - since < _runCount))
        {
            return;
        }

        _letGo = applied.Through;
        foreach ((string epoch, List<Run> runs) in _runs)
        {
            _runCount -= runs.RemoveAll(run => run.LastAt <= through);
            if (runs.Count == 0)
            {
                _runs.Remove(epoch); // which enumerating a dictionary allows
            }
        }
    }

    private static int PlaceOf(List<Run> runs, long sequence) => Ascending.PlaceOf(runs, sequence, run => run.Last);

    private Run? Find(RecordKey key) =>
        _runs.TryGetValue(key.Epoch, out List<Run>? runs) && PlaceOf(runs, key.Sequence) is var place && place < runs.Count && runs[place].First <= key.Sequence
            ? runs[place]
            : null;

    private void Read((RecordKey Key, long At)[] places, Dictionary<RecordKey, ContentHash> hashes)
    {
        IEnumerator<LogRecord>? reader = null;
        try
        {
            long next = 0; // of the log
            foreach ((RecordKey key, long at) in places)
            {
                if (reader is null || at - next > Near)
                {
                    reader?.Dispose();
                    reader = _log.Read(_log.Epoch, at).GetEnumerator();
                    next = at;
                }

                while (next <= at)
                {
                    next = reader.MoveNext() ? reader.Current.Sequence + 1 : long.MaxValue;
                }

                if (next == at + 1)
                {
                    hashes[key] = ContentHash.Of(V1.IntakeEntry.Parser.ParseFrom(reader.Current.Payload.Span).Delivered.Record.Payload.Span);
                }
                else
                {
                    TakeOut(key); // damaged: the one that comes again takes its place
                }
            }
        }
        finally
        {
            reader?.Dispose();
        }
    }

    private void TakeOut(RecordKey key)
    {
        List<Run> runs = _runs[key.Epoch];
        int place = PlaceOf(runs, key.Sequence);
        Run run = runs[place];
        int before = (int)(key.Sequence - run.First);
        Run[] left = [.. new[] { run with { Count = before }, new Run(key.Sequence + 1, run.Count - before - 1, run.At + before + 1) }.Where(r => r.Count > 0)];
        runs.RemoveAt(place);
        runs.InsertRange(place, left);
        _runCount += left.Length - 1;
    }

    /// <param name="First">Sequence of the first record in its epoch.</param>
    /// <param name="Count">Records.</param>
    /// <param name="At">Sequence of the first record in the log.</param>
    private readonly record struct Run(long First, int Count, long At)
    {
        internal long Last => First + Count - 1;

        internal long LastAt => At + Count - 1;

        internal long AtOf(long sequence) => At + sequence - First;
    }
}
