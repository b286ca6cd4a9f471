using Cardassay.Agent.Delivery;
using Cardassay.Agent.Trials;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>Puts each trial on the disk before the next one starts, and passes on what a person wants to see.</summary>
/// <param name="journal">Where the results go.</param>
/// <param name="display">What a person sees.</param>
/// <param name="atStep">Told which step begins.</param>
internal sealed class JournalingObserver(ObservationJournal journal, RunDisplay display, Action<string> atStep) : IRunObserver
{
    private readonly List<TrialMeasured> _trials = [];

    internal IReadOnlyList<TrialMeasured> Trials => _trials;

    public void OnPreparing(long bytes)
    {
        atStep("preparation");
        display.Preparing(bytes);
    }

    public void OnTrialStarting(int index, int total, PlanStep step, int repetition, TrialRole role)
    {
        atStep(PlanKinds.NameOf(step.Kind));
        display.Starting(index, total, step, repetition, role);
    }

    public void OnProgress(RunProgress progress) => display.Progress(progress);

    public void OnTrialMeasured(TrialMeasured trial)
    {
        journal.Record(trial);
        _trials.Add(trial);
        display.Measured(trial);
    }

    public void OnConditions(ConditionsSampled sample) => journal.Record(sample);
}
