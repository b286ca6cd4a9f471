namespace Cardassay.Collector.Boards;

/// <summary>What is known of each board right now. Kept in memory; what must survive is in the intake log.</summary>
internal sealed class BoardRegistry(TimeProvider time)
{
    private readonly Lock _gate = new();
    private readonly SortedDictionary<string, BoardState> _boards = new(StringComparer.Ordinal);

    /// <param name="board">Its name.</param>
    /// <param name="greeting">What it said.</param>
    /// <param name="backlog">Records it holds that the collector has not.</param>
    internal void Greeted(string board, V1.Greeting greeting, long backlog) => Change(board, state =>
    {
        state.Backlog = backlog;
        state.Model = greeting.HasBoardModel ? greeting.BoardModel : state.Model;
        state.AgentVersion = greeting.AgentVersion;
    });

    internal void Heard(string board) => Change(board, _ => { });

    /// <param name="board">Who sent them.</param>
    /// <param name="records">Records it sent.</param>
    /// <param name="fresh">Those of them that had not been received before.</param>
    internal void Received(string board, int records, int fresh) => Change(board, state =>
    {
        state.RecordsSinceStart += records;
        state.Backlog = Math.Max(0, state.Backlog - fresh);
    });

    internal void Present(string board, V1.Presence presence) => Change(board, state =>
    {
        state.Model = presence.HasBoardModel ? presence.BoardModel : state.Model;
        state.AgentVersion = presence.AgentVersion;
        state.Presence = presence;
        state.Backlog = (long)Math.Min(presence.BacklogRecords, long.MaxValue);
    });

    /// <summary>A name nobody goes by any more.</summary>
    internal void Forget(string board)
    {
        lock (_gate)
        {
            _boards.Remove(board);
        }
    }

    /// <summary>A board as last heard of; null when it was not since the collector started.</summary>
    internal BoardState? Find(string board)
    {
        lock (_gate)
        {
            return _boards.TryGetValue(board, out BoardState? state) ? state with { } : null;
        }
    }

    internal IReadOnlyList<BoardState> All()
    {
        lock (_gate)
        {
            return [.. _boards.Values.Select(b => b with { })];
        }
    }

    private void Change(string board, Action<BoardState> change)
    {
        lock (_gate)
        {
            if (!_boards.TryGetValue(board, out BoardState? state))
            {
                _boards[board] = state = new BoardState(board);
            }

            state.LastSeen = time.GetUtcNow();
            change(state);
        }
    }
}

/// <summary>One board as last heard of.</summary>
internal sealed record BoardState(string Name)
{
    /// <summary>A board that was silent for longer is called away; it reports every few seconds.</summary>
    private static readonly TimeSpan s_awayAfter = TimeSpan.FromSeconds(60);

    internal string? Model { get; set; }

    internal string AgentVersion { get; set; } = "";

    internal DateTimeOffset LastSeen { get; set; }

    internal long RecordsSinceStart { get; set; }

    /// <summary>Records without a receipt as it last said, less what it has delivered since.</summary>
    internal long Backlog { get; set; }

    internal V1.Presence? Presence { get; set; }

    /// <summary>Whether it has been silent for so long that what it last said may be so no more.</summary>
    internal bool IsAway(DateTimeOffset now) => now - LastSeen > s_awayAfter;

    /// <summary>How much of its runs the board said is done, 0 to 1 for each; null when it runs nothing.</summary>
    internal double? Progress => Presence?.Progress is null ? null : Presence.Running().Sum(p => p.Fraction);
}
