namespace Cardassay.Agent.Trials;

/// <summary>What this board's agent has written to a card in all its runs.</summary>
/// <param name="WrittenBytes">Bytes altogether.</param>
/// <param name="SinceWholeBytes">Of these since the card was last written whole; null when it never was.</param>
/// <param name="Filled">Pieces of the card that hold what the agent wrote.</param>
public sealed record CardHistory(long WrittenBytes, long? SinceWholeBytes, FilledPieces Filled)
{
    /// <summary>A card never written here.</summary>
    public static CardHistory None { get; } = new(0, null, FilledPieces.None);

    /// <summary>The history after more was written.</summary>
    /// <param name="writtenBytes">Bytes written since.</param>
    /// <param name="sinceWholeBytes">Of these since the card was written whole meanwhile; null when it was not.</param>
    /// <param name="filled">Pieces written from end to end meanwhile.</param>
    public CardHistory After(long writtenBytes, long? sinceWholeBytes, FilledPieces filled) => new(
        WrittenBytes + writtenBytes, sinceWholeBytes ?? (SinceWholeBytes + writtenBytes), Filled.With(filled));
}
