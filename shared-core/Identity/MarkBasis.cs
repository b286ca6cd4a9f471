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

    /// <summary>
    /// Trials under the standard's condition as far as this host can keep it: Linux sends no speed class command, so that a card which
    /// falls short may meet its mark on a host that does. A shortfall on this basis is a doubt, never a contradiction.
    /// </summary>
    AsThisHostCanAsk = 4,
}
