using Cardassay.Collector.Analysis;
using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Intake;

/// <summary>
/// The records of one journal among entries of another collector: which there are and where they lie. What is held of them is a line for
/// each piece in which they stand one behind the other, in the file and by their numbers: one for a journal without a hole.
/// </summary>
/// <param name="epoch">The journal's epoch, hex.</param>
internal sealed class MergeJournal(string epoch)
{
    private const int AskedAtOnce = 500;

    /// <summary>What explains a hole first, then by number, and of one number what was given first.</summary>
    private readonly PriorityQueue<Piece, (bool Follows, long Sequence, long At)> _pieces = new();
    private readonly Dictionary<long, byte[]> _taken = [];
    private IReadOnlyDictionary<RecordKey, byte[]> _known = new Dictionary<RecordKey, byte[]>();
    private Piece? _begun;
    private long _askedFrom;
    private int _asked;
    private long? _lastInOrder;

    /// <summary>The journal's epoch, hex.</summary>
    internal string Epoch { get; } = epoch;

    /// <summary>The record that comes next, or null behind the last one.</summary>
    internal Placed? Next => _pieces.TryPeek(out Piece? piece, out _) ? new Placed(piece.Sequence, piece.At, piece.Explains) : null;

    /// <summary>Records that did not come yet.</summary>
    internal long Left { get; private set; }

    /// <param name="record">The record.</param>
    /// <param name="behind">Where the entry behind it lies.</param>
    /// <returns>False where it stands in a piece of its own and not behind the record before.</returns>
    internal bool Add(Placed record, long behind)
    {
        Left++;
        if (_begun is { Explains: false } piece && !record.Explains
            && record.At == piece.Behind && record.Sequence == piece.Sequence + piece.Count)
        {
            piece.Count++;
            piece.Behind = behind;
            return true;
        }

        _begun = new Piece { Sequence = record.Sequence, At = record.At, Behind = behind, Count = 1, Explains = record.Explains };
        Enqueue(_begun);
        return false;
    }

    /// <summary>Goes on to the next record.</summary>
    /// <param name="behind">Where the entry behind the one that came lies.</param>
    internal void Pass(long behind)
    {
        Piece piece = _pieces.Dequeue();
        Left--;
        if (--piece.Count > 0)
        {
            piece.Sequence++;
            piece.At = behind;
            Enqueue(piece);
        }
    }

    /// <summary>
    /// Hash of the content that counts under the number of the record that comes next: what the store has, or what was taken before; null
    /// when neither has one.
    /// </summary>
    internal byte[]? Known(IRecordStore store)
    {
        Piece piece = _pieces.Peek();
        if (piece.Sequence - _askedFrom is var ahead && (ahead < 0 || ahead >= _asked))
        {
            (_askedFrom, _asked) = (piece.Sequence, (int)Math.Min(piece.Count, AskedAtOnce));
            _known = store.HashesOf([.. Enumerable.Range(0, _asked).Select(i => new RecordKey(Epoch, _askedFrom + i))]);
        }

        return _known.TryGetValue(new RecordKey(Epoch, piece.Sequence), out byte[]? hash) ? hash : _taken.GetValueOrDefault(piece.Sequence);
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

    private void Enqueue(Piece piece) => _pieces.Enqueue(piece, (!piece.Explains, piece.Sequence, piece.At));

    /// <summary>A record: its number, where it lies, and whether it declares records before it lost.</summary>
    internal readonly record struct Placed(long Sequence, long At, bool Explains);

    private sealed class Piece
    {
        internal required long Sequence { get; set; }

        internal required long At { get; set; }

        internal required long Behind { get; set; }

        internal required long Count { get; set; }

        internal required bool Explains { get; init; }
    }
}
