namespace Cardassay.Collector.Analysis;

/// <summary>What the trials say of one mark a card is claimed to bear.</summary>
/// <param name="Mark">The mark as printed ("V30").</param>
/// <param name="Met">
/// True when the whole interval reaches the mark's minimum under the mark's own condition, false when the whole interval lies below
/// it, null when it straddles it or the mark could not be judged.
/// </param>
/// <param name="Text">The figures behind it, or why it could not be judged, as a sentence.</param>
public sealed record MeasuredMark(string Mark, bool? Met, string Text);
