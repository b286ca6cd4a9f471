using Cardassay.Collector.Analysis;
using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Intake;

/// <summary>The records of one journal among entries of another collector: which there are and where they lie.</summary>
/// <param name="epoch">The journal's epoch, hex.</param>
internal sealed class MergeJournal(string epoch)
{
    private const int AskedAtOnce = 500;

    private readonly List<Placed> _records = [];
    private readonly Dictionary<long, byte[]> _taken = [];
    private IReadOnlyDictionary<RecordKey, byte[]> _known = new Dictionary<RecordKey, byte[]>();
    private int _next;
    private int _askedThrough;
    private long? _lastInOrder;

    /// <summary>The journal's epoch, hex.</summary>
    internal string Epoch { get; } = epoch;

    /// <summary>The record that comes next, or null behind the last one.</summary>
    internal Placed? Next => _next < _records.Count ? _records[_next] : null;

    /// <summary>Records that did not come yet.</summary>
    internal int Left => _records.Count - _next;

    /// <param name="sequence">Its number.</param>
    /// <param name="at">Where it lies.</param>
    /// <param name="explains">It declares records before it lost.</param>
    internal void Add(long sequence, long at, bool explains) => _records.Add(new Placed(sequence, at, explains));

    /// <summary>Brings them into order: what explains a hole first, then by number, and of one number what was given first.</summary>
    internal void Sort() => _records.Sort((a, b) => a.Explains != b.Explains ? (a.Explains ? -1 : 1)
        : a.Sequence != b.Sequence ? a.Sequence.CompareTo(b.Sequence) : a.At.CompareTo(b.At));

    /// <summary>Goes on to the next record.</summary>
    internal void Pass() => _next++;

    /// <summary>Hash of the content that counts under a number: what the store has, or what was taken before; null when neither has one.</summary>
    internal byte[]? Known(IRecordStore store, long sequence)
    {
        if (_next >= _askedThrough)
        {
            _askedThrough = Math.Min(_records.Count, _next + AskedAtOnce);
            _known = store.HashesOf([.. _records[_next.._askedThrough].Select(r => new RecordKey(Epoch, r.Sequence)).Distinct()]);
        }

        return _known.TryGetValue(new RecordKey(Epoch, sequence), out byte[]? hash) ? hash : _taken.GetValueOrDefault(sequence);
    }

    /// <summary>Notes what was taken. Of those in order only the last can come again; one that explains a hole stands before all others.</summary>
    internal void Take(Placed record, byte[] hash)
    {
        if (_lastInOrder is { } last)
        {
            _taken.Remove(last);
        }

        _taken[record.Sequence] = hash;
        _lastInOrder = record.Explains ? null : record.Sequence;
    }

    /// <summary>A record: its number, where it lies, and whether it declares records before it lost.</summary>
    internal readonly record struct Placed(long Sequence, long At, bool Explains);
}
