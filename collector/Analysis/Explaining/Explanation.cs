namespace Cardassay.Collector.Analysis.Explaining;

/// <summary>Where everything said of a card comes from.</summary>
/// <param name="Name">Card.</param>
/// <param name="Lines">Lines in reading order.</param>
public sealed record Explanation(string Name, IReadOnlyList<ExplanationLine> Lines);
