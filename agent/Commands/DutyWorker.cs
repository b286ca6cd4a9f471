using Cardassay.Agent.Delivery;
using Cardassay.Agent.Trials;
using Cardassay.Service;
using Cardassay.Trials;
using Google.Protobuf;
using Grpc.Core;

namespace Cardassay.Agent.Commands;

/// <summary>
/// Asks the collector what to do, does it, and reports that it was done, until cancelled. While it waits it watches the slots and checks
/// ahead what is due later; it never waits for one card while there is work on another. One run at a time, two where the board's slots were
/// tested and the collector gives out a second.
/// </summary>
internal sealed class DutyWorker(
    CollectorLink collector,
    ObservationJournal journal,
    BoardCard board,
    SlotWatch slots,
    DutyPreflight preflight,
    FinishedDuties finished,
    RunDisplay display,
    CardSigns signs,
    TimeProvider time,
    Heartbeat heartbeat)
{
    private const string DeviceFolder = "/dev/";
    private static readonly TimeSpan AskEvery = TimeSpan.FromSeconds(5);
    private static readonly TimeSpan CallLimit = TimeSpan.FromSeconds(10);
    private static readonly TimeSpan LookEvery = TimeSpan.FromSeconds(1);

    private readonly V1.BoardDesk.BoardDeskClient _desk = new(collector.Channel);
    private readonly DutyChecks _checks = new(preflight, time);

    /// <summary>The runs that go on, in the order they began. Only the loop of <see cref="RunAsync"/> changes it.</summary>
    private readonly List<DutyLane> _lanes = [];
    private string _waitsFor = "";

    /// <summary>Tests of this board's slots; none where every run goes on alone.</summary>
    internal Func<IReadOnlyList<V1.SlotPair>> Pairs { get; init; } = () => [];

    internal async Task RunAsync(bool untilIdle, CancellationToken cancellationToken)
    {
        using var stop = CancellationTokenSource.CreateLinkedTokenSource(cancellationToken);
        slots.Look();
        try
        {
            await LoopAsync(untilIdle, stop.Token);
        }
        finally
        {
            await stop.CancelAsync();
            await EndAllAsync();
        }
    }

    private async Task LoopAsync(bool untilIdle, CancellationToken cancellationToken)
    {
        while (true)
        {
            await TakeInEndedAsync();
            cancellationToken.ThrowIfCancellationRequested();
            if (_lanes.Count > 0 && slots.Look())
            {
                _checks.Outdate();
            }

            V1.Duty? duty = await AskAsync(cancellationToken);
            if (duty?.RenewCertificate == true && _lanes.Count == 0)
            {
                await collector.RenewAsync(display.Line, cancellationToken);
            }

            if (duty is not null && await _checks.UpdateAsync(duty.Waiting, MayCheck, cancellationToken))
            {
                continue; // the collector decides again, knowing more
            }

            if (duty?.Entry is { } entry && MayBegin(entry) && await CanBeginAsync(entry, cancellationToken))
            {
                Begin(entry, duty, cancellationToken);
                continue;
            }

            if (untilIdle && IsIdle(duty))
            {
                return;
            }

            if (_lanes.Count == 0)
            {
                Tell(duty);
            }

            await RestAsync(_lanes.Count == 0 && duty is { AskAgainSeconds: > 0 and < 3600 }
                ? TimeSpan.FromSeconds(duty.AskAgainSeconds)
                : AskEvery, cancellationToken);
        }
    }

    /// <summary>Asks once more whether there is anything to do; the collector hears what this board still holds.</summary>
    internal async Task<bool> IsIdleAsync(CancellationToken cancellationToken) => IsIdle(await AskAsync(cancellationToken));

    private bool IsIdle(V1.Duty? duty) => _lanes.Count == 0 && duty is { Entry: null, Waiting.Count: 0 } && finished.Open.Count == 0;

    /// <summary>Checks once more what the collector gave out: a slot may have become empty meanwhile, which is no failed run.</summary>
    private async Task<bool> CanBeginAsync(V1.ScheduleEntry entry, CancellationToken cancellationToken)
    {
        await _checks.CheckAsync(entry, cancellationToken);
        return _checks.ObstaclesOf(entry.ScheduleId).Count == 0;
    }

    /// <summary>Says once what is waited for.</summary>
    private void Tell(V1.Duty? duty)
    {
        string waitsFor = duty is null ? "" : string.Join(Environment.NewLine, duty.Waiting
            .SelectMany(
                e => _checks.ObstaclesOf(e.ScheduleId).Select(text => $"waiting, {e.PlanName}{(e.HasTag ? " on " + e.Tag : "")}: {text}")));
        if (waitsFor.Length > 0 && waitsFor != _waitsFor)
        {
            foreach (string line in waitsFor.Split(Environment.NewLine))
            {
                display.Line(AgentEvent.RunWaits, line);
            }
        }

        _waitsFor = waitsFor;
    }

    private async Task RestAsync(TimeSpan atMost, CancellationToken cancellationToken)
    {
        long begun = time.GetTimestamp();
        while (time.GetElapsedTime(begun) < atMost)
        {
            signs.Blink(); // also beside a run: a light that stood still would say something else
            if (_lanes.Count == 0)
            {
                heartbeat.Beat(); // a board without work that comes round to asking is alive; during a run only the run beats
            }

            Task wait = Task.Delay(LookEvery < atMost ? LookEvery : atMost, time, cancellationToken);
            if (await Task.WhenAny([wait, .. _lanes.Select(l => l.Work)]) != wait)
            {
                return;
            }

            await wait;
            if (_lanes.Count > 0 ? slots.HasChanged() : slots.Look())
            {
                // The next card to be asked about was put in, or one was pulled.
                _checks.Outdate();
                return;
            }
        }
    }

    /// <summary>
    /// A slot that is measured is looked at by its run alone, and only the slot that may be measured
    /// beside it is looked at meanwhile.
    /// </summary>
    private bool MayCheck(V1.ScheduleEntry entry) => _lanes.Count == 0 || (_lanes.Count < OpenRunMark.Lanes && MayBegin(entry));

    /// <summary>
    /// Whether an entry may begin beside what goes on: the collector decides, and this board knows which two slots it has tested.
    /// </summary>
    private bool MayBegin(V1.ScheduleEntry entry) => _lanes.Count == 0
        || (_lanes is [{ Disk: { } busy }] && DiskOf(entry) is { } disk && disk != busy && Pairs().Any(p =>
            p.Outdated.Length == 0
                && ((p.DiskName == busy && p.OtherDiskName == disk) || (p.DiskName == disk && p.OtherDiskName == busy))));

    private static string? DiskOf(V1.ScheduleEntry entry) =>
        entry.Target.StartsWith(DeviceFolder, StringComparison.Ordinal) && entry.Target.IndexOf('/', DeviceFolder.Length) < 0
            ? entry.Target[DeviceFolder.Length..]
            : null;

    private void Begin(V1.ScheduleEntry entry, V1.Duty duty, CancellationToken cancellationToken)
    {
        double? secondsToStop = entry.HasStopByUnixNs && duty.CollectorUnixNs != 0
            ? (entry.StopByUnixNs - duty.CollectorUnixNs) / 1e9
            : null;
        int number = _lanes.Any(l => l.Number == 0) ? 1 : 0;
        RunDisplay shown = number == 0 ? display : display.ForAnother();
        var run = new DutyRun(preflight, journal, shown, time, number);
        BoardMemory.Enter();
        _lanes.Add(new DutyLane(number, entry, DiskOf(entry), run, shown));
        TellLanes();
        _lanes[^1].Work = run.DoAsync(entry, duty.RunNumber, secondsToStop, cancellationToken);
    }

    /// <summary>Tells every run what goes on beside it.</summary>
    private void TellLanes()
    {
        foreach (DutyLane lane in _lanes)
        {
            lane.Run.Beside = _lanes.Find(l => l != lane)?.Disk;
            lane.Display.Label = _lanes.Count > 1 ? lane.Entry.Target + ": " : "";
        }
    }

    private async Task TakeInEndedAsync()
    {
        while (_lanes.Find(l => l.Work.IsCompleted) is { } ended)
        {
            await TakeInAsync(ended);
        }
    }

    private async Task TakeInAsync(DutyLane ended)
    {
        _lanes.Remove(ended);
        BoardMemory.Leave();
        TellLanes();
        V1.FinishedDuty done = await ended.Work;
        display.Line(done.Ok ? AgentEvent.RunCompleted : AgentEvent.RunNotCompleted,
            $"{ended.Entry.PlanName} on {ended.Entry.Target}: {done.Text}");
        finished.Add(done);
        if (_lanes.Count == 0)
        {
            BoardMemory.GiveBackToWait(); // of what the run kept to its end, the next one needs nothing
        }

        slots.Look();
        _checks.Outdate();
    }

    /// <summary>Waits for the runs that go on, which were told to stop, and keeps how they ended, also when one of them throws.</summary>
    private async Task EndAllAsync()
    {
        if (_lanes.Count > 0)
        {
            try
            {
                await TakeInAsync(_lanes[0]);
            }
            finally
            {
                await EndAllAsync();
            }
        }
    }

    /// <summary>Says that the board is there; null when the collector is away.</summary>
    private async Task<V1.Duty?> AskAsync(CancellationToken cancellationToken)
    {
        V1.Presence presence = Presence();
        try
        {
            V1.Duty duty = await _desk.CheckAsync(presence, cancellationToken: cancellationToken)
                .ResponseAsync.WaitAsync(CallLimit, time, cancellationToken);
            finished.Acknowledge(duty.Acknowledged);
            signs.Show(duty.Steps);
            return duty;
        }
        catch (Exception e) when (e is TimeoutException || (e is RpcException && !cancellationToken.IsCancellationRequested))
        {
            return null;
        }
        catch (RpcException)
        {
            throw new OperationCanceledException(cancellationToken);
        }
    }

    private V1.Presence Presence()
    {
        var presence = new V1.Presence
        {
            Board = board.Name,
            AgentVersion = board.AgentVersion,
            BootId = ByteString.CopyFrom(board.BootId.ToByteArray(bigEndian: true)),
            WallUnixNs = UnixTime.Ns(time.GetUtcNow()),
            BacklogRecords = (ulong)journal.Backlog,
            JournalFullness = journal.Log.Fullness,
            ChecksAhead = true,
        };
        if (board.Model is { } model)
        {
            presence.BoardModel = model;
        }

        if (_lanes.Count > 0)
        {
            presence.Progress = _lanes[0].Progress;
            presence.Beside.AddRange(_lanes.Skip(1).Select(l => l.Progress));
        }

        presence.SlotPairs.AddRange(Pairs());
        presence.Finished.AddRange(finished.Open);
        presence.Slots.AddRange(slots.Cards);
        presence.Preflight.AddRange(_checks.Results);
        return presence;
    }
}
