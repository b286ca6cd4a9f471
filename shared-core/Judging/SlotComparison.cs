using Cardassay.Trials;

namespace Cardassay.Judging;

/// <summary>
/// How one card went while the card in another slot was at work, against the same work alone in the same round. Rounds are compared by the
/// logarithm of the ratio of their speeds, together to alone.
/// </summary>
/// <param name="Disk">Where the card is that was timed.</param>
/// <param name="Kind">What it did.</param>
/// <param name="BesideDisk">Where the other one is.</param>
/// <param name="BesideKind">What that did meanwhile.</param>
/// <param name="Rounds">Rounds compared.</param>
/// <param name="MeanLogRatio">Mean of the logarithms; 0 is no difference, below 0 slower together.</param>
/// <param name="SdLogRatio">Their standard deviation.</param>
/// <param name="Together">Stalls and time of it while both worked.</param>
/// <param name="Alone">The same of it alone.</param>
public sealed record SlotComparison(
    string Disk, TrialKind Kind, string BesideDisk, TrialKind BesideKind, int Rounds, double MeanLogRatio, double SdLogRatio,
    StallCount Together, StallCount Alone)
{
    /// <summary>True when one of the two wrote.</summary>
    public bool Writes => TrialKinds.Writes(Kind) || TrialKinds.Writes(BesideKind);
}

/// <summary>Operations that took longer than the limit of their kind, and how long was looked.</summary>
/// <param name="Stalls">How many.</param>
/// <param name="Seconds">Of time measured.</param>
public readonly record struct StallCount(long Stalls, double Seconds);
