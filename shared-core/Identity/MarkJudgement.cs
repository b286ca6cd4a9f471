namespace Cardassay.Identity;

/// <summary>Whether a card met one of its marks when measured. Made by whoever looks at the trials.</summary>
/// <param name="Mark">The mark as printed ("V30").</param>
/// <param name="Met">
/// True or false when it could be judged; null when it could not, for example on a bus slower than the mark's condition. False
/// means that every figure, or its whole interval, lies below the mark's minimum: it weighs as a contradiction when the mark was claimed
/// and the basis is <see cref="MarkBasis.Judged"/>, else as a doubt.
/// </param>
/// <param name="Text">The figures behind it, or why it could not be judged, as a sentence.</param>
/// <param name="Basis">What it rests on. Only <see cref="MarkBasis.Judged"/> with <see cref="Met"/> true says that
/// the card is of the class.</param>
public sealed record MarkJudgement(string Mark, bool? Met, string Text, MarkBasis Basis = MarkBasis.OrdinaryTrials)
{
    /// <summary>
    /// "judged", "condition from memory", "not judgeable on this bus or host", "as this host can ask" or "by ordinary trials".
    /// </summary>
    public string Statement => Basis switch
    {
        MarkBasis.Judged => "judged",
        MarkBasis.ConditionFromMemory => "condition from memory",
        MarkBasis.NotJudgeable => "not judgeable on this bus or host",
        MarkBasis.AsThisHostCanAsk => "as this host can ask",
        _ => "by ordinary trials",
    };

    /// <summary>What came of it, in words that never give a class where the standard's condition was not kept.</summary>
    public string Outcome => (Basis, Met) switch
    {
        (MarkBasis.Judged, true) => "met",
        (MarkBasis.Judged or MarkBasis.AsThisHostCanAsk, false) => "not met",
        (MarkBasis.Judged, null) => "undecided",
        (MarkBasis.ConditionFromMemory, false) => "minimum not reached",
        (MarkBasis.ConditionFromMemory, true) => "minimum reached",
        (MarkBasis.OrdinaryTrials, true) => "minimum reached",
        (MarkBasis.OrdinaryTrials, false) => "minimum not reached",
        _ => "not judged",
    };
}
