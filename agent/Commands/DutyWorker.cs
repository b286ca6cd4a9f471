using Cardassay.Agent.Delivery;
using Cardassay.Agent.Trials;
using Cardassay.Service;
using Google.Protobuf;
using Grpc.Core;

namespace Cardassay.Agent.Commands;

/// <summary>
/// Asks the collector what to do, does it, and reports that it was done, until cancelled. While it waits it watches the slots and checks
/// ahead what is due later; it never waits for one card while there is work on another.
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
    Pulse pulse)
{
    private static readonly TimeSpan AskEvery = TimeSpan.FromSeconds(5);
    private static readonly TimeSpan CallLimit = TimeSpan.FromSeconds(10);
    private static readonly TimeSpan LookEvery = TimeSpan.FromSeconds(1);

    private readonly V1.BoardDesk.BoardDeskClient _desk = new(collector.Channel);
    private readonly DutyChecks _checks = new(preflight, time);
    private string _waitsFor = "";

    internal async Task RunAsync(bool untilIdle, CancellationToken cancellationToken)
    {
        slots.Look();
        while (true)
        {
            V1.Duty? duty = await AskAsync(null, cancellationToken);
            if (duty?.RenewCertificate == true)
            {
                await collector.RenewAsync(display.Line, cancellationToken);
            }

            if (duty is not null && await _checks.UpdateAsync(duty.Waiting, cancellationToken))
            {
                continue; // the collector decides again, knowing more
            }

            if (duty?.Entry is { } entry && await CanBeginAsync(entry, cancellationToken))
            {
                await DoAsync(entry, duty, cancellationToken);
                continue;
            }

            if (untilIdle && IsIdle(duty))
            {
                return;
            }

            Tell(duty);
            await RestAsync(duty is { AskAgainSeconds: > 0 and < 3600 } ? TimeSpan.FromSeconds(duty.AskAgainSeconds) : AskEvery, cancellationToken);
        }
    }

    /// <summary>Asks once more whether there is anything to do; the collector hears what this board still holds.</summary>
    internal async Task<bool> IsIdleAsync(CancellationToken cancellationToken) => IsIdle(await AskAsync(null, cancellationToken));

    private bool IsIdle(V1.Duty? duty) => duty is { Entry: null, Waiting.Count: 0 } && finished.Open.Count == 0;

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
            .SelectMany(e => _checks.ObstaclesOf(e.ScheduleId).Select(text => $"waiting, {e.PlanName}{(e.HasTag ? " on " + e.Tag : "")}: {text}")));
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
            signs.Blink();
            pulse.Beat(); // a board without work that comes round to asking is alive
            await Task.Delay(LookEvery < atMost ? LookEvery : atMost, time, cancellationToken);
            if (slots.Look())
            {
                _checks.Outdate();
                return;
            }
        }
    }

    private async Task DoAsync(V1.ScheduleEntry entry, V1.Duty duty, CancellationToken cancellationToken)
    {
        double? secondsToStop = entry.HasStopByUnixNs && duty.CollectorUnixNs != 0 ? (entry.StopByUnixNs - duty.CollectorUnixNs) / 1e9 : null;
        using var running = CancellationTokenSource.CreateLinkedTokenSource(cancellationToken);
        Task telling = TellProgressAsync(entry.ScheduleId, running.Token);
        V1.FinishedDuty done = await new DutyRun(preflight, journal, display, time).DoAsync(entry, duty.RunNumber, secondsToStop, cancellationToken);
        await running.CancelAsync();
        await telling;
        display.Line(done.Ok ? AgentEvent.RunCompleted : AgentEvent.RunNotCompleted, $"{entry.PlanName} on {entry.Target}: {done.Text}");
        finished.Add(done);

        BoardMemory.GiveBackToWait(); // of what the run kept to its end, the next one needs nothing
        slots.Look();
        _checks.Outdate();
        cancellationToken.ThrowIfCancellationRequested();
    }

    private async Task TellProgressAsync(string scheduleId, CancellationToken cancellationToken)
    {
        try
        {
            while (true)
            {
                slots.Look();
                await AskAsync(scheduleId, cancellationToken);
                for (TimeSpan waited = TimeSpan.Zero; waited < AskEvery; waited += LookEvery)
                {
                    signs.Blink(); // a light that stood still while another card is measured would say something else
                    await Task.Delay(LookEvery, time, cancellationToken);
                    if (slots.HasChanged())
                    {
                        break; // the next card to be asked about was put in, or this one pulled
                    }
                }
            }
        }
        catch (OperationCanceledException)
        {
            // The run is over.
        }
    }

    /// <summary>Says that the board is there; null when the collector is away.</summary>
    private async Task<V1.Duty?> AskAsync(string? runningScheduleId, CancellationToken cancellationToken)
    {
        V1.Presence presence = Presence(runningScheduleId);
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

    private V1.Presence Presence(string? runningScheduleId)
    {
        var presence = new V1.Presence
        {
            Board = board.Name,
            AgentVersion = board.AgentVersion,
            BootId = ByteString.CopyFrom(board.BootId.ToByteArray(bigEndian: true)),
            WallUnixNs = (time.GetUtcNow() - DateTimeOffset.UnixEpoch).Ticks * 100,
            BacklogRecords = (ulong)journal.Backlog,
            JournalFullness = journal.Log.Fullness,
            ChecksAhead = true,
        };
        if (board.Model is { } model)
        {
            presence.BoardModel = model;
        }

        if (runningScheduleId is not null)
        {
            presence.Progress = new V1.Progress
            {
                ScheduleId = runningScheduleId,
                Fraction = display.Fraction,
                SecondsLeft = display.SecondsLeft,
                Step = display.Step,
            };
        }

        presence.Finished.AddRange(finished.Open);
        presence.Slots.AddRange(slots.Cards);
        presence.Preflight.AddRange(_checks.Results);
        return presence;
    }
}
