using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Intake;

/// <summary>
/// How far each journal epoch has been received without a hole. The same class serves live intake, restart and rebuild, so
/// that all three come to the same marks. Not thread-safe: its owner locks.
/// </summary>
internal sealed class EpochLedger
{
    private readonly Dictionary<string, State> _epochs = new(StringComparer.Ordinal);

    internal EpochLedger(IEnumerable<StoredMark> marks)
    {
        foreach (StoredMark mark in marks)
        {
            _epochs[mark.Epoch] = new State(mark.Board) { Through = mark.Through, Ahead = RangesAhead.Parse(mark.Ahead) };
        }
    }

    /// <summary>Every sequence up to this one was received or is known to be lost; 0 for an epoch never seen.</summary>
    internal long Through(string epoch) => Find(epoch)?.Through ?? 0;

    /// <summary>Whether a sequence was received or is known to be lost, be it beyond a hole.</summary>
    internal bool HasPassed(string epoch, long sequence) =>
        Find(epoch) is { } state && (sequence <= state.Through || state.Ahead.Contains(sequence));

    /// <summary>The board that speaks for an epoch; null for one never seen.</summary>
    internal string? BoardOf(string epoch) => Find(epoch)?.Board;

    /// <summary>Notes that another board speaks for an epoch now; nothing for one never seen.</summary>
    internal void MoveTo(string epoch, string board)
    {
        if (Find(epoch) is { } state)
        {
            state.Board = board;
        }
    }

    /// <summary>Notes that a record of the epoch was received; one beyond a hole counts when the mark gets there.</summary>
    internal void Receive(string epoch, string board, long sequence)
    {
        State state = Of(epoch, board);
        if (sequence == state.Through + 1)
        {
            state.Through = sequence;
        }
        else
        {
            state.Ahead.Add(sequence, sequence);
        }

        state.Through = state.Ahead.Pass(state.Through);
    }

    /// <summary>Notes that a range will never come.</summary>
    internal void Lose(string epoch, string board, long first, long last)
    {
        if (first < 1 || last < first)
        {
            return;
        }

        State state = Of(epoch, board);
        state.Ahead.Add(first, last);
        state.Through = state.Ahead.Pass(state.Through);
    }

    internal StoredMark Mark(string epoch)
    {
        State state = _epochs[epoch];
        return new StoredMark(epoch, state.Board, state.Through) { Ahead = state.Ahead.ToString() };
    }

    private State Of(string epoch, string board)
    {
        if (Find(epoch) is not { } state)
        {
            _epochs[epoch] = state = new State(board);
        }

        return state;
    }

    private State? Find(string epoch) => _epochs.GetValueOrDefault(epoch);

    private sealed class State(string board)
    {
        internal string Board { get; set; } = board;

        internal long Through { get; set; }

        internal RangesAhead Ahead { get; init; } = new();
    }
}
