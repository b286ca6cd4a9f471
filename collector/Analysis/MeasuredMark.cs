using Cardassay.Identity;

namespace Cardassay.Collector.Analysis;

/// <summary>What the trials say of one mark of a card.</summary>
/// <param name="IsClaimed">True when label or shop claim the mark, false when only the card's registers declare it.</param>
/// <param name="Judgement">What came of it, on which basis.</param>
public sealed record MeasuredMark(bool IsClaimed, MarkJudgement Judgement)
{
    /// <summary>The mark as printed ("V30").</summary>
    public string Mark => Judgement.Mark;

    /// <summary>True when the minimum was reached, false when it surely was not, null when neither can be said.</summary>
    public bool? Met => Judgement.Met;

    /// <summary>The figures behind it, or why it could not be judged, as a sentence.</summary>
    public string Text => Judgement.Text;
}
