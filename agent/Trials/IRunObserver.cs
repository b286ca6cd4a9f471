using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Agent.Trials;

/// <summary>How far a run is.</summary>
/// <param name="Fraction">Part of the run that is done, 0 to 1, by time.</param>
/// <param name="TimeLeft">Time left at the most: an adaptive plan may end earlier.</param>
/// <param name="OperationsPerSecond">Of the trial that runs, over the last second.</param>
/// <param name="BytesPerSecond">Of the trial that runs, over the last second.</param>
/// <param name="IsResting">No trial runs, as the plan wants it.</param>
internal readonly record struct RunProgress(
    double Fraction, TimeSpan TimeLeft, double OperationsPerSecond, double BytesPerSecond, bool IsResting = false);

/// <summary>Told what happens in a run, on the run's own thread; whatever it does, the run waits for it.</summary>
internal interface IRunObserver
{
    /// <summary>The ranges that will be read are written and read back.</summary>
    /// <param name="bytes">Bytes to write.</param>
    void OnPreparing(long bytes);

    /// <summary>A trial is about to start.</summary>
    /// <param name="index">Its position, from 0.</param>
    /// <param name="total">Trials of the run at the most.</param>
    /// <param name="step">The step.</param>
    /// <param name="repetition">Repetition of the step, from 1.</param>
    /// <param name="role">Whether it counts.</param>
    void OnTrialStarting(int index, int total, PlanStep step, int repetition, TrialRole role);

    /// <summary>About once a second.</summary>
    void OnProgress(RunProgress progress);

    /// <summary>A trial was measured. The next one starts when this returns, so that the journal can make the record durable.</summary>
    void OnTrialMeasured(TrialMeasured trial);

    /// <summary>Something was written to the target.</summary>
    /// <param name="inRun">What the run has written so far.</param>
    void OnWritten(CardHistory inRun)
    {
    }

    /// <summary>Conditions while resting.</summary>
    void OnConditions(ConditionsSampled sample);
}
