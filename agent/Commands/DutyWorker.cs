using Cardassay.Agent.Delivery;
using Cardassay.Agent.Sysfs;
using Cardassay.Journal;
using Cardassay.Plans;
using Cardassay.Service;
using Cardassay.Trials;
using Google.Protobuf;
using Grpc.Core;

namespace Cardassay.Agent.Commands;

/// <summary>Asks the collector what to do, does it, and reports that it was done, until cancelled.</summary>
internal sealed class DutyWorker(
    CollectorLink collector,
    ObservationJournal journal,
    BoardCard board,
    SysfsTree tree,
    AgentFolder folder,
    RunDisplay display,
    TimeProvider time,
    Pulse pulse)
{
    private static readonly TimeSpan AskEvery = TimeSpan.FromSeconds(5);
    private static readonly TimeSpan CallLimit = TimeSpan.FromSeconds(10);

    private readonly V1.BoardDesk.BoardDeskClient _desk = new(collector.Channel);
    private readonly List<V1.FinishedDuty> _finished = [];
    private string? _waitsFor;

    internal async Task RunAsync(bool untilIdle, CancellationToken cancellationToken)
    {
        while (true)
        {
            V1.Duty? duty = await AskAsync(null, cancellationToken);
            if (duty?.RenewCertificate == true && await collector.RenewAsync(cancellationToken) is { } renewed)
            {
                display.Line(renewed);
            }

            if (duty?.Entry is { } entry && !IsEmptySlot(entry))
            {
                await DoAsync(entry, duty.RunNumber, cancellationToken);
                continue;
            }

            if (untilIdle && duty is { Entry: null } && _finished.Count == 0)
            {
                return;
            }

            await IdleAsync(duty is { AskAgainSeconds: > 0 and < 3600 } ? TimeSpan.FromSeconds(duty.AskAgainSeconds) : AskEvery, cancellationToken);
        }
    }

    /// <summary>Waits; a board without work that comes round to asking is alive.</summary>
    private async Task IdleAsync(TimeSpan left, CancellationToken cancellationToken)
    {
        while (left > TimeSpan.Zero)
        {
            pulse.Beat();
            TimeSpan part = left < AskEvery ? left : AskEvery;
            await Task.Delay(part, time, cancellationToken);
            left -= part;
        }
    }

    /// <summary>A slot without a card is no failed run: the board waits for a card.</summary>
    private bool IsEmptySlot(V1.ScheduleEntry entry)
    {
        bool isEmpty = entry.Target.StartsWith("/dev/", StringComparison.Ordinal) && new TargetResolver(tree).Resolve(entry.Target).Target is null;
        if (isEmpty && _waitsFor != entry.Target)
        {
            display.Line($"waiting for a card: there is no {entry.Target} now");
        }

        _waitsFor = isEmpty ? entry.Target : null;
        return isEmpty;
    }

    private async Task DoAsync(V1.ScheduleEntry entry, uint runNumber, CancellationToken cancellationToken)
    {
        var finished = new V1.FinishedDuty { ScheduleId = entry.ScheduleId, RunNumber = runNumber };
        using var running = CancellationTokenSource.CreateLinkedTokenSource(cancellationToken);
        Task telling = TellProgressAsync(entry.ScheduleId, running.Token);
        try
        {
            RunResult result = await Task.Factory.StartNew(
                () => Execute(entry, cancellationToken), CancellationToken.None, TaskCreationOptions.LongRunning, TaskScheduler.Default);
            finished.Ok = result.Summary.Outcome == RunOutcome.Completed;
            finished.Text = result.Summary.Reason ?? (result.IsGood ? "completed" : "completed with invalid trials");
        }
        catch (Exception e) when (e is CommandException or LogDiskFullException)
        {
            finished.Text = e.Message.ReplaceLineEndings(" ");
        }

        await running.CancelAsync();
        await telling;
        cancellationToken.ThrowIfCancellationRequested(); // a stop of the service is no result of the card: the run is done again
        display.Line($"{entry.PlanName} on {entry.Target}: {finished.Text}");

        // A board has little memory, and what a run left behind is of no use to the next one.
        GC.Collect(GC.MaxGeneration, GCCollectionMode.Aggressive, blocking: true, compacting: true);
        _finished.Add(finished);
    }

    private RunResult Execute(V1.ScheduleEntry entry, CancellationToken cancellationToken)
    {
        if (journal.Log.Fullness >= ObservationJournal.StopFullness)
        {
            throw new CommandException("The journal is nearly full; no new run before it is delivered.");
        }

        Plan plan = entry.HasPlanText ? PlanFile.Parse(entry.PlanText, entry.PlanName)
            : BuiltInPlans.Find(entry.PlanName) ?? throw new CommandException($"This agent has no built-in plan {entry.PlanName}.");
        var run = MeasureRun.Prepare(
            new RunRequest
            {
                Target = entry.Target,
                Tag = entry.HasTag ? entry.Tag : null,
                EraseIdentity = entry.HasEraseIdentity ? entry.EraseIdentity : null,
                AllowFixedDisk = entry.AllowFixedDisk,
                ExpectedIdentity = entry.HasExpectedIdentity ? entry.ExpectedIdentity : null,
            },
            plan,
            tree,
            folder);
        foreach (string line in run.Announcement())
        {
            display.Line(line);
        }

        return run.Execute(journal, display, cancellationToken);
    }

    private async Task TellProgressAsync(string scheduleId, CancellationToken cancellationToken)
    {
        try
        {
            while (true)
            {
                await AskAsync(scheduleId, cancellationToken);
                await Task.Delay(AskEvery, time, cancellationToken);
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
        var presence = new V1.Presence
        {
            Board = board.Name,
            AgentVersion = board.AgentVersion,
            BootId = ByteString.CopyFrom(board.BootId.ToByteArray(bigEndian: true)),
            WallUnixNs = (time.GetUtcNow() - DateTimeOffset.UnixEpoch).Ticks * 100,
            BacklogRecords = (ulong)journal.Backlog,
            JournalFullness = journal.Log.Fullness,
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
        else
        {
            presence.Finished.AddRange(_finished);
        }

        presence.Slots.AddRange(Slots());
        try
        {
            V1.Duty duty = await _desk.CheckAsync(presence, cancellationToken: cancellationToken)
                .ResponseAsync.WaitAsync(CallLimit, time, cancellationToken);
            if (runningScheduleId is null)
            {
                _finished.RemoveAll(f => duty.Acknowledged.Contains($"{f.ScheduleId}/{f.RunNumber}"));
            }

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

    private IEnumerable<V1.Slot> Slots()
    {
        foreach (string disk in tree.Names("sys/block").Where(d => d.StartsWith("mmcblk", StringComparison.Ordinal) && !d.Contains("boot", StringComparison.Ordinal)))
        {
            if (CardSighting.Take(tree, disk) is { } card)
            {
                yield return new V1.Slot
                {
                    DiskName = disk,
                    Identity = card.Identity.Text,
                    IdentityFromRegisters = card.Identity.FromRegisters,
                    DiskBytes = card.DiskBytes,
                };
            }
        }
    }
}
