using System.Globalization;
using Cardassay.Agent.Delivery;
using Cardassay.Identity;
using Cardassay.Journal;
using Cardassay.Trials;
using Google.Protobuf;

namespace Cardassay.Agent.Commands;

/// <summary>
/// One run of the schedule: on a thread of its own, ended when its time to stop comes, and left behind when the device hangs, so that
/// the rest of the board's work goes on.
/// </summary>
/// <param name="preflight">Prepares it.</param>
/// <param name="journal">Where its results go.</param>
/// <param name="display">Shows it, and nothing else meanwhile.</param>
/// <param name="time">The clock.</param>
/// <param name="lane">0, or 1 beside another run.</param>
internal sealed class DutyRun(DutyPreflight preflight, ObservationJournal journal, RunDisplay display, TimeProvider time, int lane = 0)
{
    /// <summary>
    /// A run that shows no sign of life for so long hangs in a call that does not return. Runs show one every second; a flush of a slow
    /// card may take minutes (the limit is a choice, not a measurement).
    /// </summary>
    private static readonly TimeSpan QuietAtMost = TimeSpan.FromMinutes(10);
    private static readonly TimeSpan LookEvery = TimeSpan.FromSeconds(1);

    /// <summary>How long a run that is to stop may take to come back.</summary>
    private static readonly TimeSpan StopsWithin = TimeSpan.FromSeconds(30);

    private MeasureRun? _run;
    private volatile string? _beside;

    /// <summary>Disk of another run that goes on beside this one, or null; every sample of conditions says it.</summary>
    internal string? Beside { get => _beside; set => _beside = value; }

    /// <param name="entry">What to do.</param>
    /// <param name="runNumber">Which of its runs, from 1.</param>
    /// <param name="secondsToStop">Seconds until its time to stop; null when it has none.</param>
    /// <param name="cancellationToken">The service stops.</param>
    internal async Task<V1.FinishedDuty> DoAsync(
        V1.ScheduleEntry entry, uint runNumber, double? secondsToStop, CancellationToken cancellationToken)
    {
        long begun = time.GetTimestamp();
        var finished = new V1.FinishedDuty { ScheduleId = entry.ScheduleId, RunNumber = runNumber, Outcome = (uint)RunOutcome.Failed };
        using var timeOver = new CancellationTokenSource(
            secondsToStop is { } s ? TimeSpan.FromSeconds(Math.Clamp(s, 0, 30 * 86_400)) : Timeout.InfiniteTimeSpan, time);

        // Not disposed of: a run that was left behind may still look at it.
        var stop = CancellationTokenSource.CreateLinkedTokenSource(cancellationToken, timeOver.Token);
        bool hasHung = false;
        display.Begin();
        Task<RunResult> work = Task.Factory.StartNew(
            () => Execute(entry, runNumber, stop.Token), CancellationToken.None, TaskCreationOptions.LongRunning, TaskScheduler.Default);
        try
        {
            if (await EndsAsync(work, stop.Token))
            {
                RunResult result = await work;
                hasHung = result.Summary.IsHung;
                Describe(finished, result, timeOver.IsCancellationRequested);
            }
            else
            {
                hasHung = true;
                await stop.CancelAsync();
                LeaveBehind(finished);
            }
        }
        catch (Exception e) when (e is CommandException or LogDiskFullException)
        {
            finished.Text = e.Message.ReplaceLineEndings(" ");
        }

        if (hasHung && _run?.DiskName is { } disk)
        {
            preflight.HasHung(disk);
        }

        finished.Step = finished.Ok ? "" : _run?.Begun is null ? "preflight" : _run.Step;
        finished.RunId = _run?.Begun is { } id ? ByteString.CopyFrom(id.Value.ToByteArray(bigEndian: true)) : ByteString.Empty;
        finished.Seconds = time.GetElapsedTime(begun).TotalSeconds;
        finished.ProofSeconds = _run?.ProofTime.TotalSeconds ?? 0;
        return finished;
    }

    private RunResult Execute(V1.ScheduleEntry entry, uint runNumber, CancellationToken cancellationToken)
    {
        _run = preflight.Prepare(entry, runNumber, lane, () => _beside);
        foreach (string line in _run.Announcement())
        {
            display.Line(AgentEvent.RunAnnounced, line);
        }

        return _run.Execute(journal, display, cancellationToken);
    }

    private static void Describe(V1.FinishedDuty finished, RunResult result, bool isTimeOver)
    {
        finished.Outcome = (uint)result.Summary.Outcome;
        finished.Ok = result.Summary.Outcome == RunOutcome.Completed;
        finished.Text = result.Summary.Outcome == RunOutcome.Cancelled && isTimeOver
            ? "Its time to stop came; finished trials are kept."
            : result.Summary.Reason ?? Completed(result);
    }

    private static string Completed(RunResult result) =>
        result.IsGood ? "completed"
        : result.Summary.Proof is { } proof && ProofJudgement.Of(proof).Word != ProofWord.NoOverstatementFound
            ? "completed. " + ProofFindings.Statement(proof)
        : "completed with invalid trials";

    /// <summary>False when the run hangs.</summary>
    private async Task<bool> EndsAsync(Task work, CancellationToken stop)
    {
        long signs = -1;
        long lastSign = time.GetTimestamp();
        long? stopped = null;
        while (await Task.WhenAny(work, Task.Delay(LookEvery, time, CancellationToken.None)) != work)
        {
            stopped ??= stop.IsCancellationRequested ? time.GetTimestamp() : null;
            if (display.SignsOfLife != signs)
            {
                signs = display.SignsOfLife;
                lastSign = time.GetTimestamp();
            }

            if (time.GetElapsedTime(lastSign) > QuietAtMost || (stopped is { } since && time.GetElapsedTime(since) > StopsWithin))
            {
                return false;
            }
        }

        return true;
    }

    private void LeaveBehind(V1.FinishedDuty finished)
    {
        finished.Text = string.Create(CultureInfo.InvariantCulture,
            $"{_run?.DiskName ?? "The target"} hung: the run did not come back. It is left alone until the board starts anew.");
        if (_run?.Begun is { } id)
        {
            journal.Record(new RunClosed { RunId = id, Outcome = RunOutcome.Failed, Reason = finished.Text });
        }
    }
}
