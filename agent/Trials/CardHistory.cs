using System.Globalization;
using Cardassay.Trials;

namespace Cardassay.Agent.Trials;

/// <summary>What this board's agent has written to a card: in all its runs, or in one.</summary>
/// <param name="WrittenBytes">Bytes altogether.</param>
/// <param name="SinceWholeBytes">Of these since the card was last written whole; null when it never was.</param>
/// <param name="Filled">Pieces of the card that hold what the agent wrote.</param>
public sealed record CardHistory(long WrittenBytes, long? SinceWholeBytes, FilledPieces Filled)
{
    private const string Never = "never";

    /// <summary>A card never written here.</summary>
    public static CardHistory None { get; } = new(0, null, FilledPieces.None);

    /// <summary>The night it was written to last; null when nobody noted it.</summary>
    public DateOnly? LastNight { get; init; }

    /// <summary>Bytes written in that night.</summary>
    public long LastNightBytes { get; init; }

    /// <summary>The run that was counted last; null when nobody noted it.</summary>
    public RunId? LastRun { get; init; }

    /// <summary>
    /// As a file keeps it: a number of bytes, or three or four things separated by semicolons: bytes, bytes since the card was last
    /// written whole (or "never"), the 64 MiB pieces that are filled, and the last night with the bytes of that night and the last
    /// run ("2031-03-13/1000/0123...").
    /// </summary>
    public string Text
    {
        get
        {
            string lastNight = LastNight is { } last
                ? string.Create(CultureInfo.InvariantCulture, $";{last:yyyy-MM-dd}/{LastNightBytes}/{LastRun}")
                : "";
            return this is { SinceWholeBytes: null, Filled.Count: 0, LastNight: null }
                ? string.Create(CultureInfo.InvariantCulture, $"{WrittenBytes}")
                : string.Create(CultureInfo.InvariantCulture,
                    $"{WrittenBytes};{SinceWholeBytes?.ToString(CultureInfo.InvariantCulture) ?? Never};{Filled}{lastNight}");
        }
    }

    /// <summary>Reads <see cref="Text"/>; null when it is not that.</summary>
    public static CardHistory? Parse(string text)
    {
        string[] parts = text.Split(';');
        if (parts.Length is not (1 or 3 or 4) || Number(parts[0]) is not { } bytes)
        {
            return null;
        }

        if (parts.Length == 1)
        {
            return new CardHistory(bytes, null, FilledPieces.None);
        }

        long? sinceWhole = Number(parts[1]);
        (DateOnly Night, long Bytes, RunId? Run)? last = parts.Length == 4 ? NightOf(parts[3]) : null;
        return (sinceWhole is not null || parts[1] == Never) && FilledPieces.Parse(parts[2]) is { } filled
            && (parts.Length == 3 || last is not null)
            ? new CardHistory(bytes, sinceWhole, filled) { LastNight = last?.Night, LastNightBytes = last?.Bytes ?? 0, LastRun = last?.Run }
            : null;
    }

    /// <summary>Bytes written in a night, as far as it is the last one.</summary>
    public long WrittenIn(DateOnly night) => LastNight == night ? LastNightBytes : 0;

    /// <summary>The history after more was written.</summary>
    /// <param name="writtenBytes">Bytes written since.</param>
    /// <param name="sinceWholeBytes">Of these since the card was written whole meanwhile; null when it was not.</param>
    /// <param name="filled">Pieces written from end to end meanwhile.</param>
    /// <param name="night">The night it was written in; null when that does not matter.</param>
    public CardHistory After(long writtenBytes, long? sinceWholeBytes, FilledPieces filled, DateOnly? night = null) => this with
    {
        WrittenBytes = WrittenBytes + writtenBytes,
        SinceWholeBytes = sinceWholeBytes ?? (SinceWholeBytes + writtenBytes),
        Filled = Filled.With(filled),
        LastNight = night ?? LastNight,
        LastNightBytes = night is { } now ? WrittenIn(now) + writtenBytes : LastNightBytes,
    };

    /// <summary>Both together, this one the older.</summary>
    public CardHistory With(CardHistory later) =>
        new(WrittenBytes + later.WrittenBytes, later.SinceWholeBytes ?? SinceWholeBytes, Filled.With(later.Filled))
    {
        LastNight = later.LastNight ?? LastNight,
        LastNightBytes = later.LastNight is { } night ? WrittenIn(night) + later.LastNightBytes : LastNightBytes,
        LastRun = later.LastRun ?? LastRun,
    };

    private static (DateOnly Night, long Bytes, RunId? Run)? NightOf(string text) =>
        text.Split('/') is [var day, var bytes, var run]
            && DateOnly.TryParseExact(day, "yyyy-MM-dd", CultureInfo.InvariantCulture, DateTimeStyles.None, out DateOnly night)
            && Number(bytes) is { } number
            ? (night, number, RunId.TryParse(run, out RunId id) ? id : null)
            : null;

    private static long? Number(string text) =>
        long.TryParse(text, NumberStyles.None, CultureInfo.InvariantCulture, out long number) ? number : null;
}
