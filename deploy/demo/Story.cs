using Cardassay.Trials;

namespace Cardassay.Demo;

/// <summary>What went wrong in the nights.</summary>
internal static class Story
{
    /// <summary>The card whose raw run a power cut ended; it was run again in the same night.</summary>
    public const string PowerCutTag = "T-11";

    /// <summary>The night of the power cut, from 0.</summary>
    public const int PowerCutNight = 1;

    /// <summary>Trials the run had behind it: the warm-up and two measured rounds.</summary>
    public const int PowerCutAfterTrials = 12;

    /// <summary>The card that was under-supplied during one trial, which makes the trial invalid.</summary>
    public const string UnderVoltageTag = "T-14";

    /// <summary>True for the one trial the supply failed in.</summary>
    public static bool IsUnderVoltage(Card card, NightPlan plan, int night, TrialKind kind, int repetition, TrialRole role) =>
        card.Tag == UnderVoltageTag && plan.Target == TargetKind.Device && night == 0 && kind == TrialKind.RandomWrite
        && repetition == 3 && role == TrialRole.Measured;

    /// <summary>What is left of a rate of the worn card: less from night to night, most of all in small writes.</summary>
    /// <param name="kind">What is measured.</param>
    /// <param name="night">Night, from 0.</param>
    public static double Wear(TrialKind kind, int night) => kind switch
    {
        TrialKind.RandomWrite or TrialKind.SynchronousWrite => 0.84 * (1 - (0.045 * night)),
        TrialKind.SequentialWrite => 0.93 * (1 - (0.030 * night)),
        TrialKind.RandomRead => 0.95 * (1 - (0.015 * night)),
        _ => 0.985 * (1 - (0.005 * night)),
    };
}
