namespace Cardassay.Collector.Analysis.Explaining;

/// <summary>One line of an explanation.</summary>
/// <param name="Depth">0 for a heading, 1 for a statement, 2 for what it rests on.</param>
/// <param name="Text">The line.</param>
/// <param name="Records">Records behind it, possibly none.</param>
public sealed record ExplanationLine(int Depth, string Text, IReadOnlyList<RecordKey> Records);
