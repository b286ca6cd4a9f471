using System.Globalization;
using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Boards;

/// <summary>
/// What each board is to do. Made from the events of the intake log, so that it is the same after every restart. One entry per
/// board and target; a newer one replaces the older.
/// </summary>
internal sealed class ScheduleBook
{
    /// <summary>Failures in a row after which an entry is given up.</summary>
    internal const int MaxFailures = 3;

    private readonly Lock _gate = new();
    private readonly SortedDictionary<string, Entry> _byId = new(StringComparer.Ordinal);
    private readonly HashSet<string> _finished = new(StringComparer.Ordinal);

    internal ScheduleBook(IEnumerable<StoredEvent> events)
    {
        foreach (StoredEvent e in events)
        {
            if (e.FromOperator && V1.OperatorEvent.Parser.ParseFrom(e.Payload).Schedule is { } schedule)
            {
                Set(schedule);
            }
            else if (!e.FromOperator && V1.CollectorEvent.Parser.ParseFrom(e.Payload).DutyFinished is { } finished)
            {
                Finish(finished);
            }
        }
    }

    /// <summary>Key of one finished run, for telling it apart from its repetition.</summary>
    internal static string RunKey(string scheduleId, uint runNumber) =>
        string.Create(CultureInfo.InvariantCulture, $"{scheduleId}/{runNumber}");

    internal void Set(V1.ScheduleEntry schedule)
    {
        lock (_gate)
        {
            foreach (string replaced in _byId.Values
                .Where(e => e.Schedule.Board == schedule.Board && e.Schedule.Target == schedule.Target)
                .Select(e => e.Schedule.ScheduleId).ToList())
            {
                _byId.Remove(replaced);
            }

            if (schedule.Repeat > 0)
            {
                _byId[schedule.ScheduleId] = new Entry(schedule);
            }
        }
    }

    internal bool IsFinished(string scheduleId, uint runNumber)
    {
        lock (_gate)
        {
            return _finished.Contains(RunKey(scheduleId, runNumber));
        }
    }

    internal void Finish(V1.DutyFinished finished)
    {
        lock (_gate)
        {
            if (!_finished.Add(RunKey(finished.ScheduleId, finished.RunNumber)) || !_byId.TryGetValue(finished.ScheduleId, out Entry? entry))
            {
                return;
            }

            entry.Done += finished.Ok ? 1u : 0u;
            entry.Failed += finished.Ok ? 0u : 1u;
            entry.FailedInARow = finished.Ok ? 0 : entry.FailedInARow + 1;
            entry.LastText = finished.Text;
        }
    }

    /// <summary>The next run of the board, or null when there is nothing to do.</summary>
    internal (V1.ScheduleEntry Entry, uint RunNumber)? NextFor(string board)
    {
        lock (_gate)
        {
            foreach (Entry entry in _byId.Values)
            {
                if (entry.Schedule.Board == board && !entry.IsOver)
                {
                    return (entry.Schedule, entry.Done + entry.Failed + 1);
                }
            }

            return null;
        }
    }

    internal IReadOnlyList<V1.ScheduleState> All(Func<string, string?> runningScheduleOf)
    {
        lock (_gate)
        {
            return [.. _byId.Values.Select(entry => new V1.ScheduleState
            {
                Entry = entry.Schedule,
                RunsDone = entry.Done,
                RunsFailed = entry.Failed,
                State = entry.GaveUp ? "gave up"
                    : entry.IsOver ? "done"
                    : runningScheduleOf(entry.Schedule.Board) == entry.Schedule.ScheduleId ? "running"
                    : "waiting",
                LastText = entry.LastText,
            })];
        }
    }

    private sealed class Entry(V1.ScheduleEntry schedule)
    {
        internal V1.ScheduleEntry Schedule { get; } = schedule;

        internal uint Done { get; set; }

        internal uint Failed { get; set; }

        internal int FailedInARow { get; set; }

        internal string LastText { get; set; } = "";

        internal bool GaveUp => FailedInARow >= MaxFailures;

        internal bool IsOver => GaveUp || Done >= Schedule.Repeat;
    }
}
