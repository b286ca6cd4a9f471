using System.Globalization;
using Cardassay.Agent.BlockIo;
using Cardassay.Judging;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Agent.Trials;

/// <summary>
/// Runs a plan: the long write, preparation, what makes the card steady, warm-up rounds, measured rounds, and the first trial once more.
/// Every second round goes through the steps backwards, so that no step always follows the same one; the first trial repeated last shows
/// whether the card changed during the run.
/// </summary>
internal sealed class PlanRunner
{
    /// <summary>
    /// Where the place of a region that moves comes from; far from the numbers of trials and of ranges that are prepared.
    /// </summary>
    private const int RegionBranch = int.MinValue + 1;

    private readonly Plan _plan;
    private readonly IBlockTarget _target;
    private readonly RunContext _context;
    private readonly IReadOnlyList<ResolvedStep> _steps;
    private readonly List<double>[] _values;
    private readonly RunLimits _limits;
    private readonly RunTrials _trials;
    private readonly List<string> _notes = [];
    private readonly List<ResolvedStep> _leftOut = [];
    private bool _isProven;

    private PlanRunner(Plan plan, IBlockTarget target, RunContext context)
    {
        _plan = plan;
        _target = target;
        _context = context;
        _steps = ResolvedStep.PlaceAll(plan, target.SizeBytes, target.IsFile ? null : SplitSeed.Of(context.Seed, RegionBranch));
        _values = [.. _steps.Select(_ => new List<double>())];
        _limits = new RunLimits(plan.Limits, target.IsFile ? null : target.SizeBytes, context.Clock)
        {
            ReservedBytes = target.CanWrite ? PlanEstimate.OverwriteBytesAtMost(plan, _steps) : 0,
        };
        _trials = new RunTrials(plan, target, context, _limits, PlanEstimate.Of(plan, target.SizeBytes, target.IsFile));
    }

    /// <summary>Runs a plan on a target.</summary>
    /// <exception cref="PlanException">A step does not fit on the target. Nothing was written.</exception>
    /// <exception cref="TargetException">The plan writes and the target is open for reading only. Nothing was written.</exception>
    public static RunSummary Run(Plan plan, IBlockTarget target, RunContext context, CancellationToken cancellation)
    {
        if (plan.Writes && !target.CanWrite)
        {
            throw new TargetException(TargetErrorKind.ReadOnly, $"The plan {plan.Name} writes but {target.Path} is open for reading only; "
                + "permit the writing, or use a plan that only reads.");
        }

        if (plan.Steps.Any(step => step.Extending) && !target.IsFile)
        {
            throw new TargetException(TargetErrorKind.WrongKind,
                $"The plan {plan.Name} extends a file, which {target.Path} is not; give a folder.");
        }

        if (plan.Steps.Any(step => step.Kind == TrialKind.PackageInstall) && !target.IsFile)
        {
            throw new TargetException(TargetErrorKind.WrongKind,
                $"The plan {plan.Name} makes files, which {target.Path} has none of; give a folder.");
        }

        if (plan.Cliff is not null && target.IsFile)
        {
            throw new TargetException(TargetErrorKind.WrongKind,
                $"The plan {plan.Name} begins with a long write over the card itself, which {target.Path} is not; give the device.");
        }

        var runner = new PlanRunner(plan, target, context);
        RunStop? stop = runner.RunAll(cancellation);
        return new RunSummary
        {
            Outcome = stop?.Outcome ?? RunOutcome.Completed,
            Reason = stop?.Reason,
            IsHung = stop?.IsHung ?? false,
            BytesWritten = runner._limits.BytesWritten,
            SinceWholeBytes = runner._trials.SinceWholeBytes,
            Filled = runner._trials.Filled,
            TrialsMeasured = runner._trials.Measured,
            TrialsInvalid = runner._trials.Invalid,
            Notes = runner._notes,
        };
    }

    /// <summary>A proof that wrote and read every block right is all the preparation there is.</summary>
    private bool IsPrepared => _isProven && _plan.PreconditionPasses == 0;

    private RunStop? RunAll(CancellationToken cancellation)
    {
        RunStop? stop = Cliff(cancellation) ?? Prove(cancellation);
        if (stop is null && !IsPrepared)
        {
            stop = _trials.Prepare(PlanEstimate.FillRanges(_plan, _steps, _target.IsFile), cancellation);
        }

        foreach (ResolvedStep step in _steps.Where(step => step.Step.UntilSteady > 0))
        {
            stop ??= BringSteady(step, cancellation);
        }

        for (int round = 1; stop is null && round <= _plan.WarmUp; round++)
        {
            stop = Round(_steps, round, TrialRole.WarmUp, cancellation);
        }

        IReadOnlyList<ResolvedStep> open = [.. _steps.Except(_leftOut)];
        for (int round = 1; stop is null && open.Count > 0; round++)
        {
            stop = Round(open, round, TrialRole.Measured, cancellation);
            if (stop is null)
            {
                open = [.. open.Except(_leftOut).Where(step => Decide(step, round) == RepetitionDecision.Continue)];
                _trials.Expect(open, round);
            }
        }

        if (stop is null && _steps.Count > 0)
        {
            stop = _trials.Measure(_steps[0], 1, TrialRole.Closing, cancellation).Stop is { IsBudget: false } closing ? closing : null;
        }

        if (_leftOut.Count > 0)
        {
            _notes.Add(string.Create(
                CultureInfo.InvariantCulture,
                $"The budget of {_plan.Limits.MaxCapacities:0.##} times the card a night is used up; no more of: "
                    + $"{string.Join(", ", _leftOut.Select(step => TrialKinds.NameOf(step.Step.Kind)))}."));
        }

        // A limit is no failure once every step has its fewest repetitions: adaptive plans end like this on slow cards.
        if (stop is { IsLimit: true } && _trials.HasFewest([.. _steps.Except(_leftOut)]))
        {
            _notes.Add(stop.Reason);
            stop = null;
        }

        if (_plan.NotShown.Length > 0)
        {
            _notes.Add(_plan.NotShown);
        }

        return stop ?? _trials.FirstError;
    }

    private RunStop? Cliff(CancellationToken cancellation)
    {
        if (_plan.Cliff is not { } cliff)
        {
            return null;
        }

        (string? statement, RunStop? stop) = _trials.MeasureCliff(cliff, cancellation);
        if (statement is not null)
        {
            _notes.Add(statement);
        }

        return stop;
    }

    private RunStop? Prove(CancellationToken cancellation)
    {
        if (_context.Prove is not { } prove)
        {
            return null;
        }

        ProvenPass pass = prove(cancellation);
        _trials.Proved(pass);
        _isProven = pass.Nonce is not null;
        return pass.Stop;
    }

    private RunStop? Round(IReadOnlyList<ResolvedStep> steps, int round, TrialRole role, CancellationToken cancellation)
    {
        foreach (ResolvedStep step in round % 2 == 1 ? steps : steps.Reverse())
        {
            if (_leftOut.Contains(step))
            {
                continue;
            }

            (double? figure, RunStop? stop) = _trials.Measure(step, round, role, cancellation);
            if (stop is { IsBudget: true })
            {
                // A smaller step, or one that only reads, still has its place.
                _leftOut.Add(step);
                continue;
            }

            if (figure is { } value && role == TrialRole.Measured)
            {
                // An invalid trial takes its turn but has no figure: the rule sees fewer values, the round counts all the same.
                _values[step.Index].Add(value);
            }

            if (stop is not null)
            {
                return stop;
            }
        }

        return null;
    }

    /// <summary>Repeats a step without rest until its figures are steady, as often as the plan allows.</summary>
    private RunStop? BringSteady(ResolvedStep step, CancellationToken cancellation)
    {
        var figures = new List<double>();
        long before = _limits.BytesWritten;
        for (int round = 1; round <= step.Step.UntilSteady && !SteadyState.IsReached(figures); round++)
        {
            (double? figure, RunStop? stop) = _trials.Measure(step, round, TrialRole.WarmUp, cancellation, rests: round == 1);
            if (stop is { IsBudget: true })
            {
                break;
            }

            if (stop is not null)
            {
                return stop;
            }

            figures.AddRange(figure is { } value ? [value] : []);
        }

        TrialKind kind = step.Step.Kind;
        var place = new TrialMeasured
        {
            RunId = _context.RunId,
            Kind = kind,
            Latency = new LatencyHistogram(),
            RangeStartBytes = step.StartBytes,
            RangeBytes = step.LengthBytes,
            RangeMoves = step.Moves,
        };
        string where = AddressRange.Of(place, _target.IsFile ? 0 : _target.SizeBytes).Text;
        _notes.Add(SteadyStatement.Of(TrialKinds.WordsOf(kind), where, TrialFigure.UnitOf(kind), figures, _limits.BytesWritten - before,
            step.LengthBytes));
        return null;
    }

    private RepetitionDecision Decide(ResolvedStep step, int round)
    {
        RepetitionDecision decision = RepetitionRule.After(_values[step.Index], step.Repetitions);
        if (decision == RepetitionDecision.Continue && round >= step.Repetitions.Most)
        {
            decision = RepetitionDecision.NotSettled;
        }

        if (decision == RepetitionDecision.NotSettled)
        {
            string width = RepetitionRule.HalfWidthPercent(_values[step.Index]) is { } percent
                ? string.Create(CultureInfo.InvariantCulture, $"+-{percent:0.0} %")
                : "too few valid trials";
            _notes.Add(string.Create(CultureInfo.InvariantCulture,
                $"Step {step.Index} ({TrialKinds.NameOf(step.Step.Kind)}) is not settled after {round} repetitions: {width}."));
        }

        return decision;
    }
}
