using Cardassay.Agent.BlockIo;
using Cardassay.Agent.Sysfs;
using Cardassay.Agent.Tests.BlockIo;
using Cardassay.Agent.Trials;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Agent.Tests.Trials;

[Collection("machine")]
public sealed class PlanRunnerTests
{
    private const string Quick = """
        {
          "name": "quick", "version": "1", "repetitions": 2, "warmUp": 1, "regionBytes": "8 MiB",
          "steps": [
            { "kind": "sequentialWrite", "seconds": 5, "bytes": "4 MiB" },
            { "kind": "sequentialRead", "seconds": 5, "bytes": "4 MiB" },
            { "kind": "randomRead", "seconds": 5, "operations": 50 },
            { "kind": "randomWrite", "seconds": 5, "bytes": "256 KiB" },
          ],
        }
        """;

    [SkippableFact]
    public void Run_LoopDevice_MeasuresEveryStepInAlternatingOrderAndTheFirstAgain()
    {
        Skip.IfNot(LoopDevice.IsPossible);
        using var loop = new LoopDevice(16 << 20);
        using var target = DeviceTarget.Open(loop.DevicePath, forWriting: true);
        CheckQuick(target);
    }

    [Fact]
    public void Run_Folder_MeasuresEveryStepInAlternatingOrderAndTheFirstAgain()
    {
        string folder = Directory.CreateTempSubdirectory("cardassay-run-").FullName;
        using (var target = FolderTarget.Create(folder, PlanReader.Parse(Quick, "quick").ScratchBytes))
        {
            CheckQuick(target);
        }

        Directory.Delete(folder);
    }

    [Fact]
    public void Run_CardThatChanges_IsInterruptedAndFinishedTrialsAreKept()
    {
        using var target = new MemoryTarget(16 << 20);
        var observer = new RecordingObserver();
        var watch = new ChangingWatch(askedBeforeChange: 4);
        RunSummary summary = PlanRunner.Run(PlanReader.Parse(Quick, "quick"), target, Context(observer) with { CardWatch = watch }, CancellationToken.None);
        Assert.Equal(RunOutcome.Interrupted, summary.Outcome);
        Assert.Equal("The card was swapped.", summary.Reason);
        Assert.Equal(4, observer.Trials.Count);
    }

    [Fact]
    public void Run_DeviceGone_KeepsTheBrokenTrialAndIsInterrupted()
    {
        using var target = new MemoryTarget(16 << 20);
        var observer = new RecordingObserver();
        observer.Starting = index => target.Fault = index == 2 ? (_, _) => Errno.NoDevice : null;
        RunSummary summary = PlanRunner.Run(PlanReader.Parse(Quick, "quick"), target, Context(observer), CancellationToken.None);
        Assert.Equal(RunOutcome.Interrupted, summary.Outcome);
        Assert.Equal(3, observer.Trials.Count);
        Assert.False(observer.Trials[2].Valid);
        Assert.True(TrialReasons.EndedByIoError(observer.Trials[2]));
        Assert.False(TrialReasons.EndedByIoError(observer.Trials[1]));
    }

    [Theory]
    [InlineData(false, 15)] // of 16, because first reads that cannot be prepared are not made
    [InlineData(true, 3)]
    public void Run_OneIoError_GoesOnUnlessThePlanSaysStop(bool stops, int trials)
    {
        using var target = new MemoryTarget(16 << 20);
        var observer = new RecordingObserver();
        observer.Starting = index => target.Fault = index == 2 ? (_, _) => Errno.InputOutput : null;
        Plan plan = PlanReader.Parse(Quick, "quick") with { StopAtFailure = stops };
        RunSummary summary = PlanRunner.Run(plan, target, Context(observer), CancellationToken.None);
        Assert.Equal(RunOutcome.Failed, summary.Outcome);
        Assert.Equal(trials, observer.Trials.Count);
        Assert.Equal(1, summary.TrialsInvalid);
    }

    [Fact]
    public void Run_CardThatLosesWrites_GivesInvalidReadsWithTheReason()
    {
        using var target = new MemoryTarget(16 << 20);
        var observer = new RecordingObserver();

        // After the preparation every block of the upper half comes back as zeros: a card that drops writes past its true size.
        observer.Starting = _ =>
        {
            unsafe
            {
                new Span<byte>(target.Memory + (4 << 20), 4 << 20).Clear();
            }
        };
        PlanRunner.Run(PlanReader.Parse(Quick, "quick"), target, Context(observer), CancellationToken.None);
        TrialMeasured read = observer.Trials.First(trial => trial is { Kind: TrialKind.RandomRead, Pass: 2 });
        Assert.False(read.Valid);
        Assert.False(read.ContentKnown);
        Assert.Contains("came back other than they were written", read.Reasons[0], StringComparison.Ordinal);
    }

    [Fact]
    public void Run_ReadOnlyPlanOnUnknownContent_SaysContentUnknown()
    {
        using var target = new MemoryTarget(16 << 20) { CanWrite = false };
        var observer = new RecordingObserver();
        Plan plan = PlanReader.Parse("""{ "name": "r", "version": "1", "repetitions": 1, "regionBytes": "8 MiB", "steps": [ { "kind": "randomRead", "seconds": 5, "operations": 30 } ] }""", "r");
        RunSummary summary = PlanRunner.Run(plan, target, Context(observer), CancellationToken.None);
        Assert.Equal(RunOutcome.Completed, summary.Outcome);
        Assert.Equal(0, summary.BytesWritten);
        Assert.All(observer.Trials, trial => Assert.False(trial.ContentKnown));
        Assert.All(observer.Trials, trial => Assert.True(trial.Valid));
    }

    [Fact]
    public void Run_WritingPlanOnReadOnlyTarget_IsRefused()
    {
        using var target = new MemoryTarget(16 << 20) { CanWrite = false };
        Assert.Throws<TargetException>(() => PlanRunner.Run(PlanReader.Parse(Quick, "quick"), target, Context(new RecordingObserver()), CancellationToken.None));
    }

    [Fact]
    public void Run_RegionLargerThanTarget_IsRefusedBeforeAnythingIsWritten()
    {
        using var target = new MemoryTarget(4 << 20) { Records = true };
        var error = Assert.Throws<PlanException>(() => PlanRunner.Run(PlanReader.Parse(Quick, "quick"), target, Context(new RecordingObserver()), CancellationToken.None));
        Assert.Equal("steps[0].range", error.Key);
        Assert.Empty(target.Log);
    }

    [Fact]
    public void Run_WriteLimit_StopsBeforeItIsPassed()
    {
        using var target = new MemoryTarget(16 << 20);
        var observer = new RecordingObserver();
        Plan plan = PlanReader.Parse(Quick, "quick");
        plan = plan with { Limits = plan.Limits with { MaxWriteBytes = 17 << 20 } };
        RunSummary summary = PlanRunner.Run(plan, target, Context(observer), CancellationToken.None);
        Assert.Equal(RunOutcome.Failed, summary.Outcome);
        Assert.Contains("17 MiB", summary.Reason, StringComparison.Ordinal);
        Assert.InRange(summary.BytesWritten, 12 << 20, 17 << 20);
    }

    [Fact]
    public void Run_Cancelled_KeepsFinishedTrials()
    {
        // Slow enough that the fourth step, after a random read with its first reads, is still running when the engine looks.
        using var target = new MemoryTarget(16 << 20) { Delay = TimeSpan.FromMilliseconds(3) };
        using var cancel = new CancellationTokenSource();
        var observer = new RecordingObserver();
        observer.Starting = index =>
        {
            if (index == 4)
            {
                cancel.Cancel();
            }
        };
        RunSummary summary = PlanRunner.Run(PlanReader.Parse(Quick, "quick"), target, Context(observer), cancel.Token);
        Assert.Equal(RunOutcome.Cancelled, summary.Outcome);
        Assert.Equal(4, observer.Trials.Count);
    }

    [Fact]
    public void Run_RandomReadAfterAllOfItsRangeWasWritten_ReadsItThroughFirst()
    {
        using var target = new MemoryTarget(16 << 20) { Records = true };
        Plan plan = PlanReader.Parse(
            """
            { "name": "r", "version": "1", "repetitions": 1, "regionBytes": "8 MiB",
              "steps": [ { "kind": "sequentialWrite", "seconds": 5, "bytes": "8 MiB" }, { "kind": "randomRead", "seconds": 5, "operations": 2000 } ] }
            """, "r");
        var observer = new RecordingObserver();
        PlanRunner.Run(plan, target, Context(observer), CancellationToken.None);

        // Between the write and the reads that count: all of it in order, 128 places overwritten, and these read for the first time.
        var measured = target.Log.SkipWhile(o => o.Operation != 'r').SkipWhile(o => o.Operation == 'r').SkipWhile(o => o.Operation != 'r').Where(o => o.Operation != 'f').ToList();
        int through = measured.FindIndex(o => o.Operation == 'w');
        Assert.Equal(8 << 20, measured.Take(through).Sum(o => o.LengthBytes));
        Assert.Equal(128, measured.Skip(through).TakeWhile(o => o.Operation == 'w').Count());
        TrialMeasured later = Assert.Single(observer.Trials, trial => trial.Pass == 2);
        Assert.True(later is { Operations: 2000, ContentKnown: true });
        Assert.True(target.Log.Reverse().SkipWhile(o => o.Operation != 'r').Take(2000).Select(o => o.OffsetBytes).Distinct().Count() > 1000); // of 2,048, not of 128
    }

    [Fact]
    public void Run_AdaptivePlan_StopsAtTheFirstLookThatSettles()
    {
        using var target = new MemoryTarget(16 << 20) { Delay = TimeSpan.FromMilliseconds(0.5) };
        var observer = new RecordingObserver();
        Plan plan = PlanReader.Parse(
            """{ "name": "a", "version": "1", "repetitions": { "least": 7, "most": 30, "halfWidthPercent": 30 }, "regionBytes": "1 MiB", "steps": [ { "kind": "randomRead", "seconds": 5, "operations": 30 } ] }""", "a");
        RunSummary summary = PlanRunner.Run(plan, target, Context(observer), CancellationToken.None);
        Assert.Equal(RunOutcome.Completed, summary.Outcome);

        // How many rounds it takes is the machine's affair; that the rule is kept at every look is ours.
        double[] values = [.. observer.Trials.Where(trial => trial is { Role: TrialRole.Measured, Pass: not 1 }).Select(trial => trial.OperationsPerSecond)];
        Assert.InRange(values.Length, 7, 30);
        Assert.All(Enumerable.Range(1, values.Length - 1), n =>
            Assert.Equal(RepetitionDecision.Continue, RepetitionRule.After(values[..n], plan.Repetitions)));
        Assert.NotEqual(RepetitionDecision.Continue, RepetitionRule.After(values, plan.Repetitions));
        Assert.Equal(TrialRole.Closing, observer.Trials[^1].Role);
    }

    private static void CheckQuick(IBlockTarget target)
    {
        var observer = new RecordingObserver();
        RunSummary summary = PlanRunner.Run(PlanReader.Parse(Quick, "quick"), target, Context(observer), CancellationToken.None);
        Assert.Equal(RunOutcome.Completed, summary.Outcome);
        Assert.Null(summary.Reason);
        Assert.Equal(16, summary.TrialsMeasured);
        Assert.Equal(0, summary.TrialsInvalid);
        Assert.Equal(8 << 20, observer.Prepared);

        TrialKind[] forth = [TrialKind.SequentialWrite, TrialKind.SequentialRead, TrialKind.RandomRead, TrialKind.RandomWrite];
        TrialMeasured[] later = [.. observer.Trials.Where(trial => trial.Pass != 1)];
        Assert.Equal([.. forth, .. forth, .. forth.Reverse(), TrialKind.SequentialWrite], later.Select(trial => trial.Kind));
        Assert.Equal(
            [.. Enumerable.Repeat(TrialRole.WarmUp, 4), .. Enumerable.Repeat(TrialRole.Measured, 8), TrialRole.Closing],
            later.Select(trial => trial.Role));
        Assert.Equal(Enumerable.Range(0, 16), observer.Trials.Select(trial => trial.Index));
        Assert.All(observer.Trials, trial => Assert.True(trial.Valid && trial.ContentKnown && trial.ElapsedNs > 0, string.Join(' ', trial.Reasons)));
        Assert.Equal(16, observer.Trials.Select(trial => trial.Seed).Distinct().Count());

        // Every random read follows the first reads of 128 places just overwritten: one block in 16 of 8 MiB.
        foreach (TrialMeasured read in later.Where(trial => trial.Kind == TrialKind.RandomRead))
        {
            TrialMeasured first = observer.Trials[read.Index - 1];
            Assert.Equal((TrialKind.RandomRead, 1, read.Role, read.Repetition), (first.Kind, first.Pass, first.Role, first.Repetition));
            Assert.InRange(first.Operations, 120, 128); // less the few that were drawn twice
        }

        // Preparation, then 4 sequential writes (one closing) of 4 MiB and 3 random writes of 256 KiB, and the 3 small overwrites.
        Assert.Equal((8 << 20) + (4 * (4 << 20)) + (3 * (256 << 10)) + (3 * (512 << 10)), summary.BytesWritten);
    }

    private static RunContext Context(IRunObserver observer) => new() { RunId = new RunId(new Guid("0123456789abcdef0123456789abcdef")), Seed = 77, Observer = observer };

    private sealed class RecordingObserver : IRunObserver
    {
        public List<TrialMeasured> Trials { get; } = [];

        public long Prepared { get; private set; }

        public Action<int>? Starting { get; set; }

        public void OnPreparing(long bytes) => Prepared = bytes;

        public void OnTrialStarting(int index, int total, PlanStep step, int repetition, TrialRole role)
        {
            Assert.True(total > index);
            Starting?.Invoke(index);
        }

        public void OnProgress(RunProgress progress) => Assert.InRange(progress.Fraction, 0, 1);

        public void OnTrialMeasured(TrialMeasured trial) => Trials.Add(trial);

        public void OnConditions(ConditionsSampled sample)
        {
        }
    }

    private sealed class ChangingWatch(int askedBeforeChange) : ICardWatch
    {
        private int _asked;

        public string? WhatChanged() => _asked++ < askedBeforeChange ? null : "The card was swapped.";
    }
}
