using System.Globalization;
using Cardassay.Agent.BlockIo;
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

    private readonly Plan _plan;
    private readonly IBlockTarget _target;
    private readonly RunContext _context;
    private readonly RunLimits _limits;
    private readonly ContentMap _map;
    private readonly RunClock _clock;
    private readonly int[] _repetitions;
    private int _index;

    public RunTrials(Plan plan, IBlockTarget target, RunContext context, RunLimits limits, PlanEstimate estimate)
    {
        _plan = plan;
        _target = target;
        _context = context;
        _limits = limits;
        _map = new ContentMap(target.SizeBytes);
        _clock = new RunClock(limits, estimate.SecondsAtMost);
        _repetitions = new int[plan.Steps.Count];
        Total = estimate.TrialsAtMost;
    }

    /// <summary>Trials of the run at the most, as known now.</summary>
    public int Total { get; private set; }

    public int Measured { get; private set; }

    public int Invalid { get; private set; }

    /// <summary>The first I/O error of a run that went on, or null.</summary>
    public RunStop? FirstError { get; private set; }

    /// <summary>True when every step was measured as often as the plan asks for at the least.</summary>
    public bool HasFewest(IReadOnlyList<ResolvedStep> steps) => steps.All(step => _repetitions[step.Index] >= step.Repetitions.Least);

    /// <summary>After a round: which steps go on. Corrects what is said of the end.</summary>
    public void Expect(IReadOnlyList<ResolvedStep> open, int roundsDone)
    {
        Total = _index + open.Sum(step => step.Repetitions.Most - roundsDone) + 1;
        _clock.LeftAtMost(
            open.Sum(step => (step.Repetitions.Most - roundsDone) * (step.Step.Seconds + _plan.RestSeconds)) + _plan.RestSeconds + _plan.Steps[0].Seconds);
    }

    /// <summary>Writes and reads back what the trials need; null when all went well.</summary>
    public RunStop? Prepare(IReadOnlyList<(long StartBytes, long EndBytes)> ranges, CancellationToken cancellation)
    {
        long bytes = ranges.Sum(range => range.EndBytes - range.StartBytes) * (1 + _plan.PreconditionPasses);
        if (bytes == 0)
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
        (long written, TrialRaw last) = RunPreparation.Run(ranges, 1 + _plan.PreconditionPasses, _target, _map, _context.Seed, Tick, _context.HangsAfter, cancellation);
        _limits.Wrote(written);
        return last.End switch
        {
            TrialEnd.Finished => null,
            TrialEnd.Error => Broken(last.Errno, "Preparing the target failed", cancellation),
            _ => Cancelled(last, cancellation),
        };
    }

    /// <summary>Measures one trial, in parts when it is long.</summary>
    /// <returns>Its figure of merit when it is valid, and why the run ends when it does.</returns>
    public (double? Figure, RunStop? Stop) Measure(ResolvedStep step, int repetition, TrialRole role, CancellationToken cancellation)
    {
        if (_limits.Refuse(step.Step.Seconds, step.WriteBytesAtMost) is { } refused)
        {
            return (null, refused);
        }

        if (_index > 0 && !Rest(cancellation))
        {
            return (null, Cancelled(null, cancellation));
        }

        if (CardChanged() is { } changed)
        {
            return (null, changed);
        }

        _context.Observer.OnTrialStarting(_index, Math.Max(Total, _index + 1), step.Step, repetition, role);
        var parts = new TrialParts(TrialSpec.From(step, 0));
        RunStop? stop = null;
        while (stop is null && parts.Next(SplitSeed.Of(_context.Seed, _index)) is { } spec)
        {
            (TrialMeasured? trial, stop) = MeasurePart(spec, parts.Number, repetition, role, cancellation);
            parts.Add(trial);
        }

        _repetitions[step.Index] += role == TrialRole.Measured && stop is not { Outcome: RunOutcome.Cancelled } ? 1 : 0;
        return (parts.Figure, stop);
    }

    private (TrialMeasured? Trial, RunStop? Stop) MeasurePart(TrialSpec spec, int part, int repetition, TrialRole role, CancellationToken cancellation)
    {
        var during = new ConditionsDuring(_context.Conditions, spec.Seconds);
        Cardassay.Trials.Conditions before = during.Sample();
        _clock.BeginTrial();
        TrialRaw raw = TrialEngine.Run(
            spec,
            _target,
            _map,
            tick =>
            {
                during.Add(tick.ElapsedSeconds);
                Tick(tick);
            },
            cancellation,
            _context.HangsAfter);
        if (PlanKinds.Writes(spec.Kind))
        {
            _limits.Wrote(raw.Bytes);
        }

        if (raw.End is TrialEnd.Cancelled or TrialEnd.Stuck)
        {
            return (null, Cancelled(raw, cancellation));
        }

        var frame = new TrialMeasured
        {
            RunId = _context.RunId,
            Index = _index++,
            Repetition = repetition,
            Part = part,
            Role = role,
            Latency = LatencyHistogram.OfBuckets(raw.Latency.Buckets()), // what is kept of hundreds of trials: the buckets, not 36 KB of counters each
            Before = before,
            During = during.Samples,
            After = during.Sample(),
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
            RunOutcome.Cancelled, "The run was cancelled while an operation had not come back from the kernel; its trial is not kept.", IsHung: true),
        (TrialEnd.Stuck, false) => new RunStop(
            RunOutcome.Failed,
            string.Create(CultureInfo.InvariantCulture, $"The device hung: no operation came back for {_context.HangsAfter.TotalSeconds:0} s. Switch the board off and on."),
            IsHung: true),
        _ => new RunStop(RunOutcome.Cancelled, "The run was cancelled; finished trials are kept."),
    };

    private bool Rest(CancellationToken cancellation)
    {
        double left = _plan.RestSeconds;
        while (left > 0)
        {
            TimeSpan part = TimeSpan.FromSeconds(Math.Min(left, SampleInterval.TotalSeconds));
            if (cancellation.WaitHandle.WaitOne(part))
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
