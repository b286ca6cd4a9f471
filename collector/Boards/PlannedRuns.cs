using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Report;
using Cardassay.Trials;

namespace Cardassay.Collector.Boards;

/// <summary>What the schedule held for each night and what came of it, for the report.</summary>
internal static class PlannedRuns
{
    /// <summary>Every planned run with its night. A night that is still open is marked, for it says nothing yet.</summary>
    /// <param name="history">Every entry that was ever set.</param>
    /// <param name="data">What the boards delivered.</param>
    internal static IReadOnlyList<(DateOnly Night, bool Open, PlannedRun Run)> Of(IEnumerable<ScheduledEntry> history, MasterData data)
    {
        var runs = new Dictionary<RunId, RunRecord>();
        foreach (RunRecord run in data.Runs)
        {
            runs.TryAdd(run.Opened.RunId, run);
        }

        var list = new List<(DateOnly, bool, PlannedRun)>();
        // A standing order is no run, and that a card was looked at before anybody named it is nothing a night was planned for.
        foreach (ScheduledEntry entry in history.Where(
            e => e.Schedule is { AnyCard: false } && (e.Schedule.StandingId.Length == 0 || e.Schedule.HasEraseIdentity)))
        {
            string? card = entry.Schedule.HasTag ? entry.Schedule.Tag : null;
            PlannedRun Planned(RunId? run, string? whyNot) => new(entry.Schedule.Board, card, entry.Schedule.PlanName, run, whyNot);
            List<ScheduleAttempt> failed = [];
            foreach (ScheduleAttempt attempt in entry.Attempts)
            {
                if (!attempt.Ok)
                {
                    failed.Add(attempt);
                    continue;
                }

                list.Add((NightOf(attempt, runs), false, Planned(attempt.Run ?? default(RunId), null) with
                {
                    MadeAgain = [.. failed.Select(f => f.Run).OfType<RunId>()],
                }));
                failed.Clear();
            }

            list.AddRange(Missing(entry, failed, runs, data).Select(m => (m.Night, m.Open, Planned(m.Run, m.WhyNot))));
        }

        return list;
    }

    private static IEnumerable<(DateOnly Night, bool Open, RunId? Run, string? WhyNot)> Missing(
        ScheduledEntry entry, List<ScheduleAttempt> failed, Dictionary<RunId, RunRecord> runs, MasterData data)
    {
        uint missing = entry.Withdrawn ? 0
            : entry.HasFixedNumber ? entry.Schedule.Repeat - Math.Min(entry.Done, entry.Schedule.Repeat)
            : entry.Done == 0 ? 1u
            : 0u;
        (DateOnly Night, RunId? Run)[] begun =
        [
            .. UnderWay(entry, data),
            .. failed.Where(f => f.Run is not null).Reverse().Select(f => (NightOf(f, runs), f.Run)),
        ];
        (DateOnly night, bool open, string? why) = End(entry, data);
        for (int i = 0; i < missing; i++)
        {
            yield return i < begun.Length ? (begun[i].Night, open, begun[i].Run, null) : (night, open, null, why);
        }
    }

    /// <summary>
    /// The run of an entry that has begun and whose end nobody has reported; without it, the report would miss the same run twice.
    /// </summary>
    private static IEnumerable<(DateOnly Night, RunId? Run)> UnderWay(ScheduledEntry entry, MasterData data) => data.Runs
        .Where(run => run.Closed is null && run.Board == entry.Schedule.Board && run.Opened.PlanName == entry.Schedule.PlanName
            && (!entry.Schedule.HasTag || run.Opened.Tag == entry.Schedule.Tag)
            && run.ReceivedAt >= entry.SetAt && entry.Attempts.All(a => a.Run != run.Opened.RunId))
        .OrderByDescending(run => run.ReceivedAt)
        .Take(entry.IsOver ? 0 : 1)
        .Select(run => (NightClock.NightOf(run), (RunId?)run.Opened.RunId));

    private static (DateOnly Night, bool Open, string? Why) End(ScheduledEntry entry, MasterData data)
    {
        if (entry.Closed is { } closed)
        {
            return (Night.Of(entry.StopBy is { } stop && stop < closed.At ? stop : closed.At), false, closed.Event.Text.Length == 0
                ? null
                : closed.Event.Text);
        }

        if (entry.WhyGivenUp is { } skipped)
        {
            return (Night.Of(entry.Attempts[^1].At), false, skipped);
        }

        DateTimeOffset start = entry.NotBefore is { } begin && begin > entry.SetAt ? begin : entry.SetAt;
        bool isHeard = data.Boards.Any(b => b.Name == entry.Schedule.Board && b.LastSeen > entry.SetAt);
        string why = entry.Attempts.LastOrDefault() is { Ok: false } last ? last.Text
            : isHeard ? "It still waits for its turn or its card."
            : $"Board {entry.Schedule.Board} delivered nothing since it was scheduled.";
        return (Night.Of(data.AsOf > start ? data.AsOf : start), true, why);
    }

    private static DateOnly NightOf(ScheduleAttempt attempt, Dictionary<RunId, RunRecord> runs) =>
        attempt.Run is { } id && runs.TryGetValue(id, out RunRecord? run) ? NightClock.NightOf(run) : Night.Of(attempt.At);
}
