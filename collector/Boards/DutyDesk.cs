using System.Collections.Concurrent;
using Cardassay.Trials;
using static System.FormattableString;

namespace Cardassay.Collector.Boards;

/// <summary>
/// Decides what a board does next, and closes entries whose time is over or whose card is settled. Everything it decides is in the
/// intake log before it takes effect.
/// </summary>
/// <param name="boards">The boards as last heard of.</param>
/// <param name="schedule">What they are to do.</param>
/// <param name="cards">Who recognises cards.</param>
/// <param name="record">Writes an entry to the intake log, stamps it and returns after it is on the disk.</param>
/// <param name="isSettled">Whether further runs of a card, named by its tag, would teach nothing for now.</param>
/// <param name="time">The clock.</param>
internal sealed class DutyDesk(
    BoardRegistry boards,
    ScheduleBook schedule,
    CardDirectory cards,
    Func<V1.IntakeEntry, CancellationToken, Task> record,
    Func<string, CancellationToken, Task<bool>> isSettled,
    TimeProvider time)
{
    private const uint AskAgainSeconds = 5;

    /// <summary>A board that is there and free has answered by then: it asks every 5 s and reads the card twice (a choice).</summary>
    private static readonly TimeSpan AnswersWithin = TimeSpan.FromSeconds(20);
    private static readonly TimeSpan LookEvery = TimeSpan.FromMilliseconds(100);

    /// <summary>By entry: after how many runs it was asked whether the card is settled, and the answer when it is there.</summary>
    private readonly Dictionary<string, (uint Done, Task<bool> Answer)> _settled = new(StringComparer.Ordinal);
    private readonly SemaphoreSlim _gate = new(1);

    /// <summary>Entries a person asks about and nobody recorded: their boards look whether they could begin.</summary>
    private readonly ConcurrentDictionary<string, ScheduledEntry> _asked = new(StringComparer.Ordinal);

    /// <summary>Takes in what a board says and answers what it is to do.</summary>
    internal async Task<V1.Duty> CheckAsync(string board, V1.Presence presence, CancellationToken cancellationToken)
    {
        boards.Present(board, presence);
        var duty = new V1.Duty { AskAgainSeconds = AskAgainSeconds };
        await _gate.WaitAsync(cancellationToken);
        try
        {
            foreach (V1.FinishedDuty finished in presence.Finished)
            {
                await FinishAsync(finished, cancellationToken);
                duty.Acknowledged.Add(ScheduleBook.RunKey(finished.ScheduleId, finished.RunNumber));
            }

            await CloseVoidAsync(board, presence, cancellationToken);
            await SetLooksAsync(board, cancellationToken);
            IReadOnlyList<V1.Progress> running = presence.Running();
            bool hasRoom = running.Count == 0 || (running.Count < SlotLanes.Most && SlotLanes.HasPair(presence));
            HashSet<string> undecided = hasRoom ? await CloseSettledAsync(board, presence, cancellationToken) : [];
            DateTimeOffset now = time.GetUtcNow();
            duty.CollectorUnixNs = UnixTime.Ns(now);
            List<EntryView> views = [.. Views(board, now)];
            duty.Waiting.AddRange(views.Select(v => v.Effective));
            duty.Waiting.AddRange(_asked.Values.Where(e => e.Schedule.Board == board).Select(e => ViewOf(e, now).Effective));
            duty.Steps.AddRange(Steps(board, views));
            if (hasRoom && Next(views, undecided, running, presence, now) is { } next)
            {
                EntryView view = views.First(v => v.Entry.Schedule.ScheduleId == next.Id);
                duty.Entry = view.Effective;
                duty.RunNumber = next.Attempts + 1;
            }
        }
        finally
        {
            _gate.Release();
        }

        return duty;
    }

    /// <summary>What a board begins now; a run of which nothing is known any more is one beside which nothing begins.</summary>
    private static NightEntry? Next(IReadOnlyList<EntryView> views, HashSet<string> undecided, IReadOnlyList<V1.Progress> running,
        V1.Presence presence, DateTimeOffset now)
    {
        NightEntry[] going = [.. views.Where(v => running.Any(p => p.ScheduleId == v.Entry.Schedule.ScheduleId)).Select(v => v.ForNight())];
        return going.Length < running.Count ? null
            : NightPlanner.Next([.. views.Where(v => !undecided.Contains(v.Entry.Schedule.ScheduleId)).Select(v => v.ForNight())], now,
                going, SlotLanes.MayRunTogether(presence));
    }

    /// <summary>
    /// Looks at an entry that is not recorded, and lets its board check it when it is there and free: mounted, room, the consent, the card.
    /// A board asks every few seconds.
    /// </summary>
    internal async Task<EntryView> AskAsync(V1.ScheduleEntry entry, CancellationToken cancellationToken)
    {
        var asked = new ScheduledEntry(entry, time.GetUtcNow());
        _asked[entry.ScheduleId] = asked;
        try
        {
            long begun = time.GetTimestamp();
            while (time.GetElapsedTime(begun) < AnswersWithin
                && boards.Find(entry.Board) is { Presence: { ChecksAhead: true, Progress: null } presence } state
                && !state.IsAway(time.GetUtcNow()) && presence.Preflight.All(p => p.ScheduleId != entry.ScheduleId))
            {
                await Task.Delay(LookEvery, time, cancellationToken);
            }

            return ViewOf(asked, time.GetUtcNow());
        }
        finally
        {
            _asked.TryRemove(entry.ScheduleId, out _);
        }
    }

    /// <summary>The night of a board as it would go with one more entry.</summary>
    internal NightFit Fit(EntryView added)
    {
        DateTimeOffset now = time.GetUtcNow();
        string board = added.Entry.Schedule.Board;
        IEnumerable<EntryView> others = Views(board, now).Where(v => !ScheduleBook.Replaces(added.Entry.Schedule, v.Entry.Schedule));
        return Lay([.. others.Select(v => v.ForNight()), added.ForNight() with { CanBegin = true }], boards.Find(board)?.Presence,
            now)[added.Entry.Schedule.ScheduleId];
    }

    /// <summary>Closes the entries whose time to stop has come, saying why runs are missing.</summary>
    internal async Task CloseOverdueAsync(CancellationToken cancellationToken)
    {
        await _gate.WaitAsync(cancellationToken);
        try
        {
            DateTimeOffset now = time.GetUtcNow();
            foreach (ScheduledEntry entry in schedule.Entries().Where(e => !e.IsOver && e.StopBy <= now && !IsRunning(e, now)))
            {
                await CloseAsync(entry, V1.ScheduleClosed.Types.Reason.TimeOver, WhyMissing(entry, now), cancellationToken);
            }
        }
        finally
        {
            _gate.Release();
        }
    }

    /// <summary>The schedule and what will come of it as things stand.</summary>
    internal V1.ScheduleList Show()
    {
        DateTimeOffset now = time.GetUtcNow();
        var list = new V1.ScheduleList { NowUnixNs = UnixTime.Ns(now) };
        IReadOnlyList<ScheduledEntry> entries = schedule.Entries();
        var lines = new Dictionary<string, V1.NightLine>(StringComparer.Ordinal);
        foreach (string board in entries.Select(e => e.Schedule.Board).Distinct(StringComparer.Ordinal))
        {
            EntryView[] views = [.. Views(board, now)];
            V1.Presence? presence = boards.Find(board) is { } state && !state.IsAway(now) ? state.Presence : null;
            IReadOnlyDictionary<string, NightFit> fits = Lay([.. views.Select(v => v.ForNight())], presence, now);
            foreach (EntryView view in views)
            {
                lines[view.Entry.Schedule.ScheduleId] = Line(view, fits[view.Entry.Schedule.ScheduleId], IsRunning(view.Entry, now));
            }

            list.Steps.AddRange(Steps(board, views));
        }

        foreach (ScheduledEntry entry in entries)
        {
            string id = entry.Schedule.ScheduleId;
            list.Entries.Add(new V1.ScheduleState
            {
                Entry = entry.Schedule,
                RunsDone = entry.Done,
                RunsFailed = entry.Failed,
                State = entry.StateWord(IsRunning(entry, now)),
                LastText = entry.Closed?.Event.Text is { Length: > 0 } why
                    ? why
                    : entry.WhyGivenUp ?? entry.Attempts.LastOrDefault()?.Text ?? "",
            });
            list.Night.Add(lines.GetValueOrDefault(id)
                ?? new V1.NightLine { ScheduleId = id, Card = entry.Schedule.Tag, Target = entry.Schedule.Target });
        }

        return list;
    }

    private static IReadOnlyDictionary<string, NightFit> Lay(
        IReadOnlyList<NightEntry> entries, V1.Presence? presence, DateTimeOffset now) => NightPlanner.Lay(
        entries, now, [.. presence.Running().Select(p => new NightRunning(p.ScheduleId, p.SecondsLeft))],
        SlotLanes.MayRunTogether(presence));

    private static V1.NightLine Line(EntryView view, NightFit fit, bool isRunning)
    {
        var line = new V1.NightLine
        {
            ScheduleId = view.Entry.Schedule.ScheduleId,
            RunsFit = fit.Fits,
            RunsDropped = view.Entry.HasFixedNumber ? fit.Dropped : 0,
            WaitsFor = isRunning ? "" : view.WaitsFor ?? "",
            Card = view.Effective.Tag,
            Target = view.Effective.Target,
        };
        line.Notes.AddRange(view.Notes);
        if (fit is { Begins: { } begins, Ends: { } ends, EndsBy: { } endsBy })
        {
            line.BeginsUnixNs = UnixTime.Ns(begins);
            line.EndsUnixNs = UnixTime.Ns(ends);
            line.EndsByUnixNs = UnixTime.Ns(endsBy);
        }

        return line;
    }

    private IEnumerable<EntryView> Views(string board, DateTimeOffset now)
    {
        BoardState? state = boards.Find(board);
        return schedule.Entries().Where(e => e.Schedule.Board == board && !e.IsOver && !e.Schedule.AnyCard)
            .Select(e => EntryLook.Of(e, state, cards, schedule.PastSeconds(e.Schedule), now));
    }

    /// <summary>How far the cards of all boards are that standing orders are for.</summary>
    internal IReadOnlyList<V1.CardStep> Steps()
    {
        DateTimeOffset now = time.GetUtcNow();
        return [.. schedule.Entries().Where(e => e.Schedule.AnyCard).Select(e => e.Schedule.Board).Distinct(StringComparer.Ordinal)
            .SelectMany(board => Steps(board, [.. Views(board, now)]))];
    }

    /// <summary>How far the cards are that standing orders of a board are for; nothing of a board that is away.</summary>
    private IEnumerable<V1.CardStep> Steps(string board, IReadOnlyList<EntryView> views)
    {
        if (boards.Find(board) is not { } state || state.IsAway(time.GetUtcNow()))
        {
            yield break;
        }

        foreach (CardOnLadder card in CardLadder.Of(state, schedule.OrdersOf(board), schedule.History, cards))
        {
            yield return CardLadder.Step(card, state, views.FirstOrDefault(v => v.Entry == card.Due)?.WaitsFor, time.GetUtcNow());
        }
    }

    /// <summary>Lets every card be looked at that a standing order is for and that nothing is known to be done with.</summary>
    private async Task SetLooksAsync(string board, CancellationToken cancellationToken)
    {
        if (boards.Find(board) is not { } state)
        {
            return;
        }

        foreach (CardOnLadder card in CardLadder.Of(state, schedule.OrdersOf(board), schedule.History, cards).Where(c => c.NeedsLook))
        {
            V1.ScheduleEntry look = CardLadder.Look(card, state);
            schedule.Set(look, await RecordAsync(new V1.CollectorEvent { StepSet = look }, cancellationToken));
        }
    }

    /// <summary>Ends what was set for a medium that is not in its slot any more: a consent holds for no other card.</summary>
    private async Task CloseVoidAsync(string board, V1.Presence presence, CancellationToken cancellationToken)
    {
        foreach (ScheduledEntry entry in schedule.Entries()
            .Where(e => e.Schedule is { Medium: not null } && e.Schedule.Board == board && !e.IsOver
                && presence.ProgressOf(e.Schedule.ScheduleId) is null))
        {
            V1.Medium medium = entry.Schedule.Medium;
            if (presence.Slots.FirstOrDefault(s => s.DiskName == medium.DiskName) is { } slot
                && !Media.IsStill(medium, presence, slot, cards.Recognise(board, presence, slot)))
            {
                string over = entry.Schedule.HasEraseIdentity ? " The consent to overwrite it is over." : "";
                await CloseAsync(entry, V1.ScheduleClosed.Types.Reason.CardChanged, EntryLook.OtherCard(medium, board, slot) + over,
                    cancellationToken);
            }
        }
    }

    private EntryView ViewOf(ScheduledEntry entry, DateTimeOffset now) =>
        EntryLook.Of(entry, boards.Find(entry.Schedule.Board), cards, schedule.PastSeconds(entry.Schedule), now);

    private bool IsRunning(ScheduledEntry entry, DateTimeOffset now) =>
        boards.Find(entry.Schedule.Board) is { } board && !board.IsAway(now)
        && board.Presence.ProgressOf(entry.Schedule.ScheduleId) is not null;

    private async Task FinishAsync(V1.FinishedDuty finished, CancellationToken cancellationToken)
    {
        if (schedule.IsFinished(finished.ScheduleId, finished.RunNumber))
        {
            return;
        }

        var e = new V1.DutyFinished
        {
            ScheduleId = finished.ScheduleId,
            RunNumber = finished.RunNumber,
            Ok = finished.Ok,
            Text = finished.Text,
            RunId = finished.RunId,
            Outcome = finished.Outcome,
            Step = finished.Step,
            Seconds = finished.Seconds,
            ProofSeconds = finished.ProofSeconds,
        };
        schedule.Finish(e, await RecordAsync(new V1.CollectorEvent { DutyFinished = e }, cancellationToken));
    }

    /// <summary>Returns the entries that must wait until it can be told whether their card is settled.</summary>
    private async Task<HashSet<string>> CloseSettledAsync(string board, V1.Presence presence, CancellationToken cancellationToken)
    {
        HashSet<string> undecided = [];
        foreach (ScheduledEntry entry in schedule.Entries()
            .Where(e => e.Schedule is { UntilSettled: true, HasTag: true } && e.Schedule.Board == board && e.Done > 0 && !e.IsOver))
        {
            string id = entry.Schedule.ScheduleId;
            if (presence.BacklogRecords > 0)
            {
                undecided.Add(id); // what was measured last is still on its way
            }
            else
            {
                if (!_settled.TryGetValue(id, out (uint Done, Task<bool> Answer) asked) || asked.Done != entry.Done)
                {
                    _settled[id] = asked = (entry.Done, isSettled(entry.Schedule.Tag, CancellationToken.None));
                }

                // The analysis of a large data set takes a while; no board waits for that of another.
                if (!asked.Answer.IsCompleted)
                {
                    undecided.Add(id);
                }
                else if (await asked.Answer)
                {
                    await CloseAsync(entry, V1.ScheduleClosed.Types.Reason.Settled, "", cancellationToken);
                }
            }
        }

        return undecided;
    }

    private string WhyMissing(ScheduledEntry entry, DateTimeOffset now)
    {
        if (!entry.HasFixedNumber && entry.Done > 0)
        {
            return "";
        }

        BoardState? board = boards.Find(entry.Schedule.Board);
        string missing = entry.HasFixedNumber
            ? Invariant($"{entry.Left} of {entry.Schedule.Repeat} runs were not made: ")
            : "No run was made: ";
        if (board?.Presence is null || board.LastSeen < entry.SetAt)
        {
            return $"{missing}board {entry.Schedule.Board} did not report after it was scheduled.";
        }

        EntryView view = EntryLook.Of(entry, board, cards, schedule.PastSeconds(entry.Schedule), now);
        return missing + (view.WaitsFor is { } why ? why
            : entry.Attempts.LastOrDefault() is { Ok: false } last ? last.Text
            : "the time to stop came first.");
    }

    private async Task CloseAsync(
        ScheduledEntry entry, V1.ScheduleClosed.Types.Reason reason, string text, CancellationToken cancellationToken)
    {
        var e = new V1.ScheduleClosed { ScheduleId = entry.Schedule.ScheduleId, Reason = reason, Text = text };
        schedule.Close(e, await RecordAsync(new V1.CollectorEvent { ScheduleClosed = e }, cancellationToken));
    }

    private async Task<DateTimeOffset> RecordAsync(V1.CollectorEvent e, CancellationToken cancellationToken)
    {
        var entry = new V1.IntakeEntry { CollectorEvent = e };
        await record(entry, cancellationToken);
        return UnixTime.At(entry.ReceivedUnixNs);
    }
}
