using System.Globalization;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Storage;
using Cardassay.Trials;
using Cardassay.Wire;

namespace Cardassay.Collector.Notices;

/// <summary>
/// Knows which runs are open and when a sign of life came last, from the records as they are stored. Records are taken in by
/// the projection's thread and asked about by the loop of the messages.
/// </summary>
internal sealed class RunWatch
{
    /// <summary>A run silent for longer is of an earlier night; nobody waits for it.</summary>
    private static readonly TimeSpan Forgotten = TimeSpan.FromHours(24);

    private readonly Lock _gate = new();
    private readonly Dictionary<RunId, OpenRun> _open = [];
    private readonly List<(OpenRun Run, RunClosed Closed)> _closed = [];
    private readonly TimeProvider _time;

    /// <param name="data">Where things stand at the start.</param>
    /// <param name="openBefore">Runs that were open when the collector last looked, hex: one that ended since is told.</param>
    /// <param name="time">The clock.</param>
    internal RunWatch(MasterData data, IEnumerable<string> openBefore, TimeProvider time)
    {
        _time = time;
        HashSet<string> before = [.. openBefore];
        Dictionary<string, DateTimeOffset?> seen = data.Boards.ToDictionary(b => b.Name, b => b.LastSeen, StringComparer.Ordinal);
        foreach (RunRecord run in data.Runs)
        {
            var open = new OpenRun(run.Opened.RunId, run.Board, CardOf(run.Opened), seen.GetValueOrDefault(run.Board) ?? run.ReceivedAt)
            {
                Trials = run.TrialCount,
            };
            if (run.Closed is null)
            {
                _open[run.Opened.RunId] = open;
            }
            else if (before.Contains(Hex(run.Opened.RunId)))
            {
                _closed.Add((open, run.Closed));
            }
        }
    }

    /// <summary>Runs that are open, hex.</summary>
    internal IReadOnlyList<string> Open
    {
        get
        {
            lock (_gate)
            {
                return [.. _open.Keys.Select(Hex).Order(StringComparer.Ordinal)];
            }
        }
    }

    /// <summary>Takes in records just stored.</summary>
    internal void Take(IReadOnlyList<StoredRecord> records)
    {
        foreach (StoredRecord record in records.Where(r => !r.Conflicting))
        {
            if (record.Observed() is RunObservation observation)
            {
                lock (_gate)
                {
                    Take(record, observation);
                }
            }
        }
    }

    /// <summary>Says that a board's run moved on, which its presence tells between two records.</summary>
    internal void Moved(string board)
    {
        lock (_gate)
        {
            foreach (OpenRun run in _open.Values.Where(r => r.Board == board))
            {
                run.LastSign = _time.GetUtcNow();
            }
        }
    }

    /// <summary>Messages due now: runs that ended since the last call, and runs silent for longer than the limit.</summary>
    internal IReadOnlyList<Notice> Due(TimeSpan limit)
    {
        DateTimeOffset now = _time.GetUtcNow();
        lock (_gate)
        {
            List<Notice> notices = [.. _closed.Select(c => Finished(c.Run, c.Closed, now))];
            _closed.Clear();
            notices.AddRange(_open.Values
                .Where(r => now - r.LastSign > limit && now - r.LastSign < Forgotten)
                .OrderBy(r => r.LastSign)
                .Select(r => Stalled(r, now)));
            return notices;
        }
    }

    private void Take(StoredRecord record, RunObservation observation)
    {
        switch (observation)
        {
            case RunOpened opened:
                _open[opened.RunId] = new OpenRun(opened.RunId, record.Board, CardOf(opened), _time.GetUtcNow());
                break;
            case RunClosed closed when _open.Remove(closed.RunId, out OpenRun? ended):
                _closed.Add((ended, closed));
                break;
            default:
                if (_open.TryGetValue(observation.RunId, out OpenRun? run))
                {
                    run.LastSign = _time.GetUtcNow();
                    run.Trials += observation is TrialMeasured ? 1 : 0;
                    run.Invalid += observation is TrialMeasured { Valid: false } ? 1 : 0;
                }

                break;
        }
    }

    private static Notice Finished(OpenRun run, RunClosed closed, DateTimeOffset now)
    {
        string how = closed.Outcome == RunOutcome.Completed ? "completed" : closed.Outcome.ToString().ToLowerInvariant();
        return new Notice(
            NoticeKind.Finished,
            "finished-" + Hex(run.Id),
            $"{run.Card} in {run.Board}: run {how}",
            string.Create(CultureInfo.InvariantCulture,
                $"The run on {run.Card} in {run.Board} ended: {how}{(string.IsNullOrEmpty(closed.Reason) ? "" : $" ({closed.Reason})")}. "
                    + $"{run.Trials} trials were measured, {run.Invalid} of them invalid; "
                    + $"{closed.BytesWritten / 1e9:0.00} GB were written."),
            now);
    }

    private static Notice Stalled(OpenRun run, DateTimeOffset now) => new(
        NoticeKind.Stalled,
        string.Create(CultureInfo.InvariantCulture, $"stalled-{Hex(run.Id)}-{run.LastSign.ToUnixTimeSeconds()}"),
        $"{run.Card} in {run.Board}: nothing new",
        string.Create(CultureInfo.InvariantCulture,
            $"The run on {run.Card} in {run.Board} is open, and nothing came of it for {(now - run.LastSign).TotalMinutes:0} minutes (last "
                + $"sign {run.LastSign.UtcDateTime:yyyy-MM-dd HH:mm} UTC). Look whether the board has power and a network, "
                + $"and whether the card is in its slot."),
        now);

    private static string CardOf(RunOpened opened) => opened.Tag ?? "an untagged card";

    private static string Hex(RunId id) => Convert.ToHexStringLower(id.ToBytes());

    private sealed record OpenRun(RunId Id, string Board, string Card, DateTimeOffset FirstSign)
    {
        internal DateTimeOffset LastSign { get; set; } = FirstSign;

        internal int Trials { get; set; }

        internal int Invalid { get; set; }
    }
}
