using System.Globalization;
using Cardassay.Collector.Storage;
using Cardassay.Trials;

namespace Cardassay.Collector.Boards;

/// <summary>
/// What each board is to do, in the order a person said it. Made from the events of the intake log, so that it is the same after
/// every restart. A newer entry for the same board and target replaces the older ones unless it says that they stay.
/// </summary>
internal sealed class ScheduleBook
{
    private readonly Lock _gate = new();
    private readonly List<ScheduledEntry> _entries = [];
    private readonly HashSet<string> _finished = new(StringComparer.Ordinal);

    /// <param name="events">The events of the intake log, in its order.</param>
    /// <param name="nameOf">
    /// What a board of another collector (second argument) is called: with it the book holds what all collectors were told, which is for
    /// reports. Null leaves out what was taken over from others, which is nothing for this one's boards.
    /// </param>
    internal ScheduleBook(IEnumerable<StoredEvent> events, Func<string, string, string>? nameOf = null)
    {
        foreach (StoredEvent e in events)
        {
            DateTimeOffset at = UnixTime.At(e.AtUnixNs);
            if (e.FromOperator)
            {
                V1.OperatorEvent message = V1.OperatorEvent.Parser.ParseFrom(e.Payload);
                if (message.Schedule is { } schedule && (message.Origin.Length == 0 || nameOf is not null))
                {
                    schedule.Board = nameOf?.Invoke(schedule.Board, message.Origin) ?? schedule.Board;
                    Set(schedule, at);
                }
            }
            else
            {
                V1.CollectorEvent message = V1.CollectorEvent.Parser.ParseFrom(e.Payload);
                if (message.Origin.Length > 0 && nameOf is null)
                {
                    continue;
                }

                if (message.StepSet is { } step)
                {
                    step.Board = nameOf?.Invoke(step.Board, message.Origin) ?? step.Board;
                    Set(step, at);
                }
                else if (message.DutyFinished is { } finished)
                {
                    Finish(finished, at);
                }
                else if (message.ScheduleClosed is { } closed)
                {
                    Close(closed, at);
                }
            }
        }
    }

    /// <summary>Every entry that was ever set, replaced ones included, oldest first: what the report tells of a night.</summary>
    internal IReadOnlyList<ScheduledEntry> History { get; private set; } = [];

    /// <summary>Key of one finished run, for telling it apart from its repetition.</summary>
    internal static string RunKey(string scheduleId, uint runNumber) =>
        string.Create(CultureInfo.InvariantCulture, $"{scheduleId}/{runNumber}");

    /// <summary>Whether an entry takes the place of an older one.</summary>
    internal static bool Replaces(V1.ScheduleEntry entry, V1.ScheduleEntry older) =>
        !entry.KeepOthers && older.Board == entry.Board && older.Target == entry.Target && older.AnyCard == entry.AnyCard
        && (entry.Target.Length > 0 || entry.AnyCard || older.Tag == entry.Tag);

    /// <summary>
    /// What a standing order makes of a card without anybody's consent ends with the order; what a person consented to goes on.
    /// </summary>
    private static bool EndsWith(V1.ScheduleEntry order, V1.ScheduleEntry step) =>
        order.AnyCard && step.StandingId == order.ScheduleId && !step.HasEraseIdentity;

    internal void Set(V1.ScheduleEntry schedule, DateTimeOffset at)
    {
        lock (_gate)
        {
            if (!schedule.KeepOthers)
            {
                ScheduledEntry[] replaced = [.. _entries.Where(e => Replaces(schedule, e.Schedule))];
                ScheduledEntry[] ended = [.. _entries.Where(e => replaced.Any(r => EndsWith(r.Schedule, e.Schedule)))];
                foreach (ScheduledEntry entry in replaced.Concat(ended))
                {
                    entry.Withdraw();
                    _entries.Remove(entry);
                }
            }

            if (schedule.Repeat > 0)
            {
                var added = new ScheduledEntry(schedule, at);
                _entries.Add(added);
                History = [.. History, added];
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

    internal void Finish(V1.DutyFinished finished, DateTimeOffset at)
    {
        lock (_gate)
        {
            if (_finished.Add(RunKey(finished.ScheduleId, finished.RunNumber)))
            {
                History.FirstOrDefault(e => e.Schedule.ScheduleId == finished.ScheduleId)?.Add(ScheduleAttempt.Of(finished, at));
            }
        }
    }

    internal void Close(V1.ScheduleClosed closed, DateTimeOffset at)
    {
        lock (_gate)
        {
            History.FirstOrDefault(e => e.Schedule.ScheduleId == closed.ScheduleId)?.Close(closed, at);
        }
    }

    /// <summary>
    /// The entries in force, over or not, in the order they were set; of what standing orders made, only what is not over.
    /// </summary>
    internal IReadOnlyList<ScheduledEntry> Entries()
    {
        lock (_gate)
        {
            return [.. _entries.Where(e => e.Schedule.StandingId.Length == 0 || !e.IsOver)];
        }
    }

    /// <summary>The standing orders of a board.</summary>
    internal IReadOnlyList<ScheduledEntry> OrdersOf(string board) =>
        [.. Entries().Where(e => e.Schedule.AnyCard && e.Schedule.Board == board)];

    /// <summary>
    /// Seconds that completed runs of a plan took without their capacity proof, oldest first: those on the board,
    /// or on any when it has made none.
    /// </summary>
    internal IReadOnlyList<double> PastSeconds(V1.ScheduleEntry schedule)
    {
        lock (_gate)
        {
            ILookup<bool, double> past = History
                .Where(e => e.Schedule.PlanName == schedule.PlanName && e.Schedule.PlanText == schedule.PlanText)
                .SelectMany(
                    e => e.Attempts.Where(a => a is { Ok: true, Seconds: > 0 })
                        .Select(a => (e.Schedule.Board, Seconds: Math.Max(0, a.Seconds - a.ProofSeconds))))
                .ToLookup(a => a.Board == schedule.Board, a => a.Seconds);
            return [.. past[true].Any() ? past[true] : past[false]];
        }
    }
}
