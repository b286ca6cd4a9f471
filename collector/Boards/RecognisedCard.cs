namespace Cardassay.Collector.Boards;

/// <summary>Which card is in a slot, as far as the collector can tell.</summary>
/// <param name="Tag">Its sticker; null when it could not be recognised.</param>
/// <param name="How">How it was recognised, or why not: one sentence.</param>
/// <param name="Certain">True when it has not left the slot since it was named.</param>
/// <param name="Candidates">The stickers that share its identity when these are several, else empty.</param>
internal sealed record RecognisedCard(string? Tag, string How, bool Certain, IReadOnlyList<string> Candidates);
