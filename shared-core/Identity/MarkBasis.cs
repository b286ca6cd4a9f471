namespace Cardassay.Identity;

/// <summary>What a statement on a mark rests on.</summary>
public enum MarkBasis
{
    /// <summary>Ordinary trials, which do not keep the standard's condition.</summary>
    OrdinaryTrials = 0,

    /// <summary>Trials under the standard's own condition.</summary>
    Judged = 1,

    /// <summary>Trials under a condition that is known from memory only: the figures stand, a class is not stated.</summary>
    ConditionFromMemory = 2,

    /// <summary>The standard's condition cannot be had on this bus or host.</summary>
    NotJudgeable = 3,
}
