using System.Globalization;
using Cardassay.Agent.BlockIo;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Agent.Trials;

/// <summary>
/// Runs a plan: preparation, warm-up rounds, measured rounds, and the first trial once more. Every second round goes through the
/// steps backwards, so that no step always follows the same one; the first trial repeated last shows whether the card changed during
/// the run.
/// </summary>
internal sealed class PlanRunner
{
    private readonly Plan _plan;
    private readonly IBlockTarget _target;
    private readonly RunContext _context;
    private readonly IReadOnlyList<ResolvedStep> _steps;
    private readonly List<double>[] _values;
    private readonly RunLimits _limits;
    private readonly RunTrials _trials;
    private readonly List<string> _notes = [];

    private PlanRunner(Plan plan, IBlockTarget target, RunContext context)
    {
        _plan = plan;
        _target = target;
        _context = context;
        _steps = ResolvedStep.PlaceAll(plan, target.SizeBytes);
        _values = [.. _steps.Select(_ => new List<double>())];
        _limits = new RunLimits(plan.Limits, context.Time);
        _trials = new RunTrials(plan, target, context, _limits, PlanEstimate.Of(plan, target.SizeBytes, target.IsFile));
    }

    /// <summary>Runs a plan on a target.</summary>
    /// <exception cref="PlanException">A step does not fit on the target. Nothing was written.</exception>
    /// <exception cref="TargetException">The plan writes and the target is open for reading only. Nothing was written.</exception>
    public static RunSummary Run(Plan plan, IBlockTarget target, RunContext context, CancellationToken cancellation)
    {
        if (plan.Writes && !target.CanWrite)
        {
            throw new TargetException(TargetErrorKind.ReadOnly, $"The plan {plan.Name} writes but {target.Path} is open for reading only; permit the writing, or use a plan that only reads.");
        }

        if (plan.Steps.Any(step => step.Extending) && !target.IsFile)
        {
            throw new TargetException(TargetErrorKind.WrongKind, $"The plan {plan.Name} extends a file, which {target.Path} is not; give a folder.");
        }

        var runner = new PlanRunner(plan, target, context);
        RunStop? stop = runner.RunAll(cancellation);
        return new RunSummary
        {
            Outcome = stop?.Outcome ?? RunOutcome.Completed,
            Reason = stop?.Reason,
            IsHung = stop?.IsHung ?? false,
            BytesWritten = runner._limits.BytesWritten,
            TrialsMeasured = runner._trials.Measured,
            TrialsInvalid = runner._trials.Invalid,
            Notes = runner._notes,
        };
    }

    private RunStop? RunAll(CancellationToken cancellation)
    {
        IReadOnlyList<(long, long)> fill = PlanEstimate.FillRanges(_plan, _steps, _target.IsFile);
        RunStop? stop = _trials.Prepare(fill, cancellation);
        for (int round = 1; stop is null && round <= _plan.WarmUp; round++)
        {
            stop = Round(_steps, round, TrialRole.WarmUp, cancellation);
        }

        IReadOnlyList<ResolvedStep> open = _steps;
        for (int round = 1; stop is null && open.Count > 0; round++)
        {
            stop = Round(open, round, TrialRole.Measured, cancellation);
            if (stop is null)
            {
                open = [.. open.Where(step => Decide(step, round) == RepetitionDecision.Continue)];
                _trials.Expect(open, round);
            }
        }

        if (stop is null)
        {
            stop = _trials.Measure(_steps[0], 1, TrialRole.Closing, cancellation).Stop;
        }

        // A limit is no failure once every step has its fewest repetitions: adaptive plans end like this on slow cards.
        if (stop is { IsLimit: true } && _trials.HasFewest(_steps))
        {
            _notes.Add(stop.Reason);
            stop = null;
        }

        return stop ?? _trials.FirstError;
    }

    private RunStop? Round(IReadOnlyList<ResolvedStep> steps, int round, TrialRole role, CancellationToken cancellation)
    {
        foreach (ResolvedStep step in round % 2 == 1 ? steps : steps.Reverse())
        {
            (double? figure, RunStop? stop) = _trials.Measure(step, round, role, cancellation);
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
            _notes.Add(string.Create(CultureInfo.InvariantCulture, $"Step {step.Index} ({PlanKinds.NameOf(step.Step.Kind)}) is not settled after {round} repetitions: {width}."));
        }

        return decision;
    }
}
