namespace Cardassay.Identity;

/// <summary>Whether a card met one of its marks when measured. Made by whoever looks at the trials.</summary>
/// <param name="Mark">The mark as printed ("V30").</param>
/// <param name="Met">
/// True or false when it could be judged; null when it could not, for example on a bus slower than the mark's condition. False
/// means that the whole interval of the figure lies below the mark's minimum, under the mark's own condition: it weighs as a
/// contradiction when the mark was claimed.
/// </param>
/// <param name="Text">The figures behind it, or why it could not be judged, as a sentence.</param>
public sealed record MarkJudgement(string Mark, bool? Met, string Text);
