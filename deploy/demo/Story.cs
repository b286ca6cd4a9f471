using Cardassay.Trials;

namespace Cardassay.Demo;

/// <summary>The three things that went wrong in the nights, beside the faults planted in cards.</summary>
internal static class Story
{
    /// <summary>The card whose raw run a power cut ended; it was run again in the same night.</summary>
    public const string PowerCutTag = "T-11";

    /// <summary>The night of the power cut, from 0.</summary>
    public const int PowerCutNight = 1;

    /// <summary>Trials the run had behind it.</summary>
    public const int PowerCutAfterTrials = 12;

    /// <summary>The card that was under-supplied in one trial, which is invalid for it.</summary>
    public const string UnderVoltageTag = "T-14";

    /// <summary>The night of the under-voltage, from 0.</summary>
    public const int UnderVoltageNight = 0;

    /// <summary>Index of the trial in the raw run: the third measured random write of eight trials a step.</summary>
    public const int UnderVoltageIndex = 19;

    /// <summary>What wear leaves of a rate: less from run to run, most of all in small writes.</summary>
    /// <param name="step">What is measured.</param>
    /// <param name="night">Night, from 0.</param>
    /// <param name="runsPerNight">Raw runs in a night.</param>
    /// <param name="runOfNight">Run in the night, from 0.</param>
    public static double Wear(PlanStep step, int night, int runsPerNight, int runOfNight)
    {
        int runs = (night * runsPerNight) + runOfNight;
        return step.Kind switch
        {
            TrialKind.RandomWrite or TrialKind.SynchronousWrite => 0.84 * (1 - (0.022 * runs)),
            TrialKind.SequentialWrite => 0.92 * (1 - (0.016 * runs)),
            TrialKind.RandomRead => 0.95 * (1 - (0.008 * runs)),
            _ => 0.985 * (1 - (0.003 * runs)),
        };
    }
}
