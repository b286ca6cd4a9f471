using Cardassay.Agent.Delivery;
using Cardassay.Agent.Trials;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>Puts each trial on the disk before the next one starts, and passes on what a person wants to see.</summary>
/// <param name="journal">Where the results go.</param>
/// <param name="display">What a person sees.</param>
/// <param name="site">Told which step begins and what was written.</param>
internal sealed class JournalingObserver(ObservationJournal journal, RunDisplay display, RunSite site) : IRunObserver
{
    private static readonly Cardassay.Trials.Conditions NoConditions = new();

    private readonly List<TrialMeasured> _trials = [];

    /// <summary>What was measured so far, without what happened second by second and without the conditions during and after.</summary>
    internal IReadOnlyList<TrialMeasured> Trials => _trials;

    public void OnPreparing(long bytes)
    {
        site.At("preparation");
        display.Preparing(bytes);
    }

    public void OnTrialStarting(int index, int total, PlanStep step, int repetition, TrialRole role)
    {
        site.At(TrialKinds.NameOf(step.Kind));
        display.Starting(index, total, step, repetition, role);
    }

    public void OnProgress(RunProgress progress) => display.Progress(progress);

    public void OnTrialMeasured(TrialMeasured trial)
    {
        journal.Record(trial);
        display.Measured(trial);

        // The evidence is on the disk; hundreds of trials wait in memory for the page at the end, which shows none of it.
        _trials.Add(trial with { Timeline = [], Stalls = [], During = [], After = NoConditions });
    }

    public void OnWritten(CardHistory inRun) => site.Wrote(inRun);

    public void OnConditions(ConditionsSampled sample) => journal.Record(sample);
}
