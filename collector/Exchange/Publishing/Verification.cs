namespace Cardassay.Collector.Exchange.Publishing;

/// <summary>What a check of a publication came to.</summary>
/// <param name="Records">Raw records it rests on.</param>
/// <param name="Figures">Figures recomputed.</param>
/// <param name="Differences">One sentence for each figure or text that does not follow from the records.</param>
internal sealed record Verification(int Records, int Figures, IReadOnlyList<string> Differences);
