using System.Globalization;
using Cardassay.Agent.BlockIo;
using Cardassay.Judging;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Agent.Trials;

/// <summary>Does the single trials of a run: asks the card watch, rests, samples conditions, measures, tells the observer.</summary>
internal sealed class RunTrials
{
    private static readonly TimeSpan SampleInterval = TimeSpan.FromSeconds(1);

    /// <summary>
    /// How long the kernel may go on showing a card that is no longer there: the transfer fails at once, but the slot's switch is
    /// debounced and the removal done later (Linux, mmc_detect_change). The limit is a choice, not a measurement.
    /// </summary>
    private static readonly TimeSpan RemovalLimit = TimeSpan.FromSeconds(3);
    private static readonly TimeSpan RemovalPoll = TimeSpan.FromMilliseconds(100);

    /// <summary>Where the place of the long write comes from; far from the numbers of trials and of ranges that are prepared.</summary>
    private const int CliffBranch = int.MinValue;

    private readonly Plan _plan;
    private readonly IBlockTarget _target;
    private readonly RunContext _context;
    private readonly RunLimits _limits;
    private readonly ContentMap _map;
    private readonly RunClock _clock;
    private readonly int[] _repetitions;
    private readonly CardFilling? _filling;
    private int _index;

    public RunTrials(Plan plan, IBlockTarget target, RunContext context, RunLimits limits, PlanEstimate estimate)
    {
        _plan = plan;
        _target = target;
        _context = context;
        _limits = limits;
        _map = new ContentMap(target.SizeBytes);
        _clock = new RunClock(limits, estimate.SecondsAtMost);
        _filling = target.IsFile ? null : new CardFilling(context.History, _map, target.SizeBytes, limits);
        _repetitions = new int[plan.Steps.Count];
        Total = estimate.TrialsAtMost;
    }

    /// <summary>Trials of the run at the most, as known now.</summary>
    public int Total { get; private set; }

    public int Measured { get; private set; }

    public int Invalid { get; private set; }

    /// <summary>The first I/O error of a run that went on, or null.</summary>
    public RunStop? FirstError { get; private set; }

    /// <summary>
    /// Of what was written, the bytes since the card was written whole by this run; null when it was not, or in a folder.
    /// </summary>
    public long? SinceWholeBytes => _filling?.SinceWholeInRunBytes;

    /// <summary>Pieces of the device this run wrote from end to end.</summary>
    public FilledPieces Filled => _filling?.InRun ?? FilledPieces.None;

    /// <summary>True when every step was measured as often as the plan asks for at the least.</summary>
    public bool HasFewest(IReadOnlyList<ResolvedStep> steps) => steps.All(step => _repetitions[step.Index] >= step.Repetitions.Least);

    /// <summary>After a round: which steps go on. Corrects what is said of the end.</summary>
    public void Expect(IReadOnlyList<ResolvedStep> open, int roundsDone)
    {
        Total = _index + open.Sum(step => (step.Repetitions.Most - roundsDone) * step.TrialsEach) + 2;
        _clock.LeftAtMost(
            open.Sum(step => (step.Repetitions.Most - roundsDone) * (step.Step.Seconds + _plan.RestSeconds)) + _plan.RestSeconds
                + _plan.Steps[0].Seconds);
    }

    /// <summary>Takes in what a proof wrote since the last trial.</summary>
    public void Proved(ProvenPass pass)
    {
        _limits.Proved(pass.BytesWritten, pass.Seconds);
        _map.Replace(pass.Nonce);
        if (pass.WroteWhole)
        {
            _filling?.Whole();
        }

        TellWritten();
    }

    /// <summary>Writes and reads back what the trials need; null when all went well.</summary>
    public RunStop? Prepare(IReadOnlyList<(long StartBytes, long EndBytes)> ranges, CancellationToken cancellation)
    {
        int passes = 1 + _plan.PreconditionPasses;
        long bytes =
            ranges.SelectMany(range => RunPreparation.ToWrite(range, passes, _map)).Sum(part => part.EndBytes - part.StartBytes) * passes;
        if (ranges.Count == 0)
        {
            return null;
        }

        if (CardChanged() is { } changed)
        {
            return changed;
        }

        if (_limits.Refuse(0, bytes) is { } refused)
        {
            return refused;
        }

        _context.Observer.OnPreparing(bytes);
        (long written, TrialRaw last) = RunPreparation.Run(ranges, passes, _map, _context.Seed, spec => Engine(spec, Tick, cancellation));
        _limits.Wrote(written);
        _filling?.Look();
        TellWritten();
        return last.End switch
        {
            TrialEnd.Finished => null,
            TrialEnd.Error => Broken(last.Errno, "Preparing the target failed", cancellation),
            _ => Cancelled(last, cancellation),
        };
    }

    /// <summary>
    /// Measures one trial, in parts when it is long, after the plan's rest unless it is to follow the one before at once.
    /// </summary>
    /// <returns>Its figure of merit when it is valid, and why the run ends when it does.</returns>
    public (double? Figure, RunStop? Stop) Measure(
        ResolvedStep step, int repetition, TrialRole role, CancellationToken cancellation, bool rests = true)
    {
        if (_limits.Refuse(step.Step.Seconds, step.WriteBytesAtMost) is { } refused)
        {
            return (null, refused);
        }

        var parts = new LongTrial(TrialSpec.From(step, 0));
        (RunStop? stop, bool hasBegun) = Begin(step.Step, rests ? _plan.RestSeconds : 0, repetition, role, cancellation);
        bool goesOn = stop is null;
        if (goesOn && step.OverwriteOperations > 0)
        {
            (goesOn, stop) = OverwriteAndRead(step, repetition, role, cancellation);
        }

        while (goesOn && stop is null && parts.Next(SplitSeed.Of(_context.Seed, _index)) is { } spec)
        {
            (TrialMeasured? trial, stop) = MeasurePart(spec, parts.Number, repetition, role, cancellation);
            parts.Add(trial);
        }

        _repetitions[step.Index] += hasBegun && role == TrialRole.Measured && stop is not { Outcome: RunOutcome.Cancelled } ? 1 : 0;
        return (parts.Figure, stop);
    }

    /// <summary>
    /// Overwrites a few places of a random read's range and reads these for the first time; see <see cref="SmallOverwrite"/>.
    /// </summary>
    /// <returns>False when the read that was to follow has no sense any more, and why the run ends when it does.</returns>
    private (bool GoesOn, RunStop? Stop) OverwriteAndRead(ResolvedStep step, int repetition, TrialRole role, CancellationToken cancellation)
    {
        // With one seed, reads and writes come to the same places.
        TrialSpec read = TrialSpec.From(step, SplitSeed.Of(_context.Seed, _index)) with
        {
            Pass = 1,
            OperationsAtMost = step.OverwriteOperations,
        };
        var before = new List<TrialSpec> { read with { Kind = TrialKind.RandomWrite, Pass = 0 } };
        if (2 * _map.UnreadBlocks(step.StartBytes, step.LengthBytes) > step.LengthBytes / SectorTag.BlockBytes)
        {
            // Another step wrote most of it: what is to be read here are not first reads.
            before.Insert(0, RunPreparation.ReadThrough(step.StartBytes, step.StartBytes + step.LengthBytes, read.Seed));
        }

        foreach (TrialSpec spec in before)
        {
            (TrialMeasured? broken, RunStop? stop) = MeasurePart(spec, 0, repetition, role, cancellation, isBeside: true);
            if (stop is not null || broken is not null)
            {
                return (false, stop);
            }
        }

        (TrialMeasured? first, RunStop? ended) = MeasurePart(read, 0, repetition, role, cancellation);
        return (ended is null && first is { } trial && !TrialReasons.EndedByIoError(trial), ended);
    }

    /// <summary>
    /// Measures the long write at the start of a plan and what follows its rest. Call it before anything else is written: its place, which
    /// follows from the seed, must be one that nothing of the run has written.
    /// </summary>
    /// <returns>What it says of the card, null when it was not measured or is not valid, and why the run ends when it does.</returns>
    public (string? Statement, RunStop? Stop) MeasureCliff(PlanCliff cliff, CancellationToken cancellation)
    {
        int block = TrialKinds.DefaultBlockBytes(TrialKind.Cliff);
        (long write, long recovery) = cliff.On(_target.SizeBytes, block);
        long start = PlanCliff.PlaceBytes * new SeededSequence(SplitSeed.Of(_context.Seed, CliffBranch))
            .Below(cliff.PlacesOn(_target.SizeBytes, block));
        (TrialMeasured? first, RunStop? stop) = Long(cliff, start, write, isRecovery: false, cancellation);
        if (stop is not null || first is not { Valid: true } || recovery == 0)
        {
            return (first is { Valid: true } ? CliffStatement.Of(first, null, null) : null, stop);
        }

        (TrialMeasured? second, stop) = Long(cliff, start + write, recovery, isRecovery: true, cancellation);
        return (CliffStatement.Of(first, second is { Valid: true } ? second : null, cliff.RestSeconds), stop);
    }

    private (TrialMeasured? Trial, RunStop? Stop) Long(
        PlanCliff cliff, long startBytes, long bytes, bool isRecovery, CancellationToken cancellation)
    {
        if (_limits.Refuse(cliff.Seconds, bytes) is { } refused)
        {
            return (null, refused);
        }

        var step = new PlanStep
        {
            Kind = TrialKind.Cliff,
            BlockBytes = TrialKinds.DefaultBlockBytes(TrialKind.Cliff),
            Seconds = cliff.Seconds,
            Bytes = bytes,
            StallLimitMs = PlanKinds.DefaultStallLimitMs(TrialKind.Cliff),
        };
        var placed = new ResolvedStep(-1, step, startBytes, bytes, Repetitions.Fixed(1));
        (RunStop? stop, _) = Begin(step, isRecovery ? cliff.RestSeconds : 0, 1, TrialRole.Measured, cancellation);
        return stop is not null
            ? (null, stop)
            : MeasurePart(
                TrialSpec.From(placed, SplitSeed.Of(_context.Seed, _index)) with { Recovery = isRecovery, RangeMoves = true }, 0, 1,
                TrialRole.Measured, cancellation);
    }

    /// <summary>What comes before every trial: the rest, the look at the card, the word to the observer.</summary>
    private (RunStop? Stop, bool HasBegun) Begin(
        PlanStep step, double restSeconds, int repetition, TrialRole role, CancellationToken cancellation)
    {
        if (_index > 0 && !Rest(restSeconds, cancellation))
        {
            return (Cancelled(null, cancellation), false);
        }

        if (CardChanged() is { } changed)
        {
            return (changed, false);
        }

        _context.Observer.OnTrialStarting(_index, Math.Max(Total, _index + 1), step, repetition, role);
        return (null, true);
    }

    private TrialRaw Engine(TrialSpec spec, Action<TrialTick> everySecond, CancellationToken cancellation) =>
        TrialEngine.Run(spec, _target, _map, everySecond, cancellation, _context.HangsAfter, _context.Clock);

    private void TellWritten() => _context.Observer.OnWritten(new CardHistory(_limits.BytesWritten, SinceWholeBytes, Filled));

    /// <param name="spec">What to do.</param>
    /// <param name="part">Number of the part; 0 for a whole trial.</param>
    /// <param name="repetition">Repetition of its step, from 1.</param>
    /// <param name="role">Whether it counts.</param>
    /// <param name="cancellation">Ends it.</param>
    /// <param name="isBeside">It makes the card ready for the trial that follows: kept only when something was wrong with it.</param>
    private (TrialMeasured? Trial, RunStop? Stop) MeasurePart(
        TrialSpec spec, int part, int repetition, TrialRole role, CancellationToken cancellation, bool isBeside = false)
    {
        CardHistory? history = _filling?.Now;
        var during = new ConditionsDuring(_context.Conditions, spec.Seconds);
        Cardassay.Trials.Conditions before = during.Sample();
        _clock.BeginTrial();
        TrialRaw raw = Engine(
            spec,
            tick =>
            {
                during.Add(tick.ElapsedSeconds);
                Tick(tick);
            },
            cancellation);
        if (TrialKinds.Writes(spec.Kind))
        {
            _limits.Wrote(raw.Bytes - raw.ReadBytes, isReserved: isBeside); // only writes wear
            _filling?.Look();
            TellWritten();
        }

        if (raw.End is TrialEnd.Cancelled or TrialEnd.Stuck)
        {
            return (null, Cancelled(raw, cancellation));
        }

        if (isBeside && raw is { End: TrialEnd.Finished, Mismatches: 0 })
        {
            return (null, null);
        }

        var frame = new TrialMeasured
        {
            RunId = _context.RunId,
            Index = _index++,
            Repetition = repetition,
            Part = part,
            Role = role,
            // what is kept of hundreds of trials: the buckets, not 36 KB of counters each
            Latency = LatencyHistogram.OfBuckets(raw.Latency.Buckets()),
            Before = before,
            During = during.Samples,
            After = during.Sample(),
            WrittenBeforeBytes = history?.WrittenBytes,
            SinceWholeBytes = history?.SinceWholeBytes,
            FilledBytes = history?.Filled.BytesOf(_target.SizeBytes),
        };
        TrialMeasured trial = TrialReport.Of(frame, spec, raw, _target.Kind);
        Measured++;
        Invalid += trial.Valid ? 0 : 1;
        _context.Observer.OnTrialMeasured(trial);

        BoardMemory.GiveBack(); // between two trials nothing is timed
        return (trial, raw.End == TrialEnd.Error ? AfterError(raw, cancellation) : null);
    }

    private RunStop? AfterError(TrialRaw raw, CancellationToken cancellation)
    {
        RunStop stop = Broken(raw.Errno, "A trial ended with an I/O error", cancellation);
        FirstError ??= stop;
        return stop.Outcome == RunOutcome.Interrupted || _plan.StopAtFailure ? stop : null;
    }

    private RunStop Broken(int errno, string what, CancellationToken cancellation)
    {
        string? changed = ChangeAfterError(cancellation);
        bool isGone = Errno.MeansGone(errno) || changed is not null || _target.IsGone();
        return isGone
            ? new RunStop(RunOutcome.Interrupted, $"{what} and the card is gone: {changed ?? Errno.Text(errno)}")
            : new RunStop(RunOutcome.Failed, $"{what}: {Errno.Text(errno)}.");
    }

    private string? ChangeAfterError(CancellationToken cancellation)
    {
        if (_context.CardWatch is not { } watch)
        {
            return null;
        }

        string? changed = watch.WhatChanged();
        for (TimeSpan waited = TimeSpan.Zero; changed is null && waited < RemovalLimit; waited += RemovalPoll)
        {
            if (cancellation.WaitHandle.WaitOne(RemovalPoll))
            {
                break;
            }

            changed = watch.WhatChanged();
        }

        return changed;
    }

    private RunStop? CardChanged() =>
        _context.CardWatch?.WhatChanged() is { } changed ? new RunStop(RunOutcome.Interrupted, changed) : null;

    private RunStop Cancelled(TrialRaw? raw, CancellationToken cancellation) => (raw?.End, cancellation.IsCancellationRequested) switch
    {
        (TrialEnd.Stuck, true) => new RunStop(
            RunOutcome.Cancelled,
            "The run was cancelled while an operation had not come back from the kernel; its trial is not kept.", IsHung: true),
        (TrialEnd.Stuck, false) => new RunStop(
            RunOutcome.Failed,
            string.Create(CultureInfo.InvariantCulture,
                $"The device hung: no operation came back for {_context.HangsAfter.TotalSeconds:0} s. Switch the board off and on."),
            IsHung: true),
        _ => new RunStop(RunOutcome.Cancelled, "The run was cancelled; finished trials are kept."),
    };

    private bool Rest(double seconds, CancellationToken cancellation)
    {
        double left = seconds;
        while (left > 0)
        {
            TimeSpan part = TimeSpan.FromSeconds(Math.Min(left, SampleInterval.TotalSeconds));
            if (_context.Clock.Wait(cancellation.WaitHandle, part))
            {
                return false;
            }

            left -= part.TotalSeconds;
            if (_context.Conditions is { } conditions)
            {
                _context.Observer.OnConditions(new ConditionsSampled { RunId = _context.RunId, Conditions = conditions.Sample() });
            }

            _context.Observer.OnProgress(_clock.Resting());
        }

        return !cancellation.IsCancellationRequested;
    }

    private void Tick(TrialTick tick) => _context.Observer.OnProgress(_clock.Running(tick));
}
