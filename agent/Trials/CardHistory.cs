using Cardassay.Trials;

namespace Cardassay.Agent.Trials;

/// <summary>What this board's agent has written to a card in all its runs.</summary>
/// <param name="WrittenBytes">Bytes altogether.</param>
/// <param name="SinceWholeBytes">Of these since the card was last written whole; null when it never was.</param>
/// <param name="Filled">Pieces of the card that hold what the agent wrote.</param>
public sealed record CardHistory(long WrittenBytes, long? SinceWholeBytes, FilledPieces Filled)
{
    /// <summary>A card never written here.</summary>
    public static CardHistory None { get; } = new(0, null, FilledPieces.None);

    /// <summary>The night it was written to last; null when nobody noted it.</summary>
    public DateOnly? LastNight { get; init; }

    /// <summary>Bytes written in that night.</summary>
    public long LastNightBytes { get; init; }

    /// <summary>The run that was counted last; null when nobody noted it.</summary>
    public RunId? LastRun { get; init; }

    /// <summary>Bytes written in a night, as far as it is the last one.</summary>
    public long WrittenIn(DateOnly night) => LastNight == night ? LastNightBytes : 0;

    /// <summary>The history after more was written.</summary>
    /// <param name="writtenBytes">Bytes written since.</param>
    /// <param name="sinceWholeBytes">Of these since the card was written whole meanwhile; null when it was not.</param>
    /// <param name="filled">Pieces written from end to end meanwhile.</param>
    /// <param name="night">The night it was written in; null when that does not matter.</param>
    public CardHistory After(long writtenBytes, long? sinceWholeBytes, FilledPieces filled, DateOnly? night = null) =>
        new(WrittenBytes + writtenBytes, sinceWholeBytes ?? (SinceWholeBytes + writtenBytes), Filled.With(filled))
        {
            LastNight = night ?? LastNight,
            LastNightBytes = night is { } now ? WrittenIn(now) + writtenBytes : LastNightBytes,
            LastRun = LastRun,
        };

    /// <summary>Both together, this one the older.</summary>
    public CardHistory With(CardHistory later) => new(WrittenBytes + later.WrittenBytes, later.SinceWholeBytes ?? SinceWholeBytes, Filled.With(later.Filled))
    {
        LastNight = later.LastNight ?? LastNight,
        LastNightBytes = later.LastNight is { } night ? WrittenIn(night) + later.LastNightBytes : LastNightBytes,
        LastRun = later.LastRun ?? LastRun,
    };
}
