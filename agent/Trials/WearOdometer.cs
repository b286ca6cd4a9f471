using System.Globalization;
using System.Text;
using Cardassay.Journal;
using Cardassay.Trials;

namespace Cardassay.Agent.Trials;

/// <summary>
/// What was written to each card by all runs of this board, per identity and tag. Kept in one text file, a line for each card: what was
/// written, identity and tag, separated by tabs. What was written is a number of bytes, or three or four things separated by semicolons: bytes,
/// bytes since the card was last written whole (or "never"), the 64 MiB pieces that are filled, and the last night with the bytes of that night and the last
/// run ("2031-03-13/1000/0123..."), so that no run is counted twice. A new file is written and synced before it takes the old one's place, so a power cut leaves the old or the new one.
/// </summary>
/// <param name="disk">A folder that holds nothing but the odometer.</param>
public sealed class WearOdometer(ILogDisk disk)
{
    private const string FileName = "odometer";
    private const string NewName = "odometer.new";
    private const string Never = "never";

    // A board would have to wear out ten thousand cards to get near it.
    private const long LimitBytes = 4 * 1024 * 1024;

    /// <summary>What was written so far.</summary>
    /// <param name="identity">Identity text of the card.</param>
    /// <param name="tag">Its sticker, or null.</param>
    /// <exception cref="IOException">The file is there but cannot be read.</exception>
    public CardHistory HistoryOf(string identity, string? tag) => Together(Load().Select(ParseLine).OfType<(CardHistory, string)>(), CardOf(identity, tag));

    /// <summary>Adds what a run wrote and returns what is now written, which is on disk by then.</summary>
    /// <param name="identity">Identity text of the card.</param>
    /// <param name="tag">Its sticker, or null.</param>
    /// <param name="bytes">Bytes written, 0 or more.</param>
    /// <param name="sinceWholeBytes">Of these since the run had written the card whole; null when it did not.</param>
    /// <param name="filled">Pieces the run wrote from end to end.</param>
    /// <param name="night">The night it was written in, or null.</param>
    /// <param name="run">The run that wrote it; one that was counted last is not counted again. Null where that cannot happen.</param>
    /// <exception cref="IOException">It could not be kept; the old sums still are.</exception>
    /// <exception cref="LogInUseException">Another agent is at it this very moment; try again.</exception>
    public CardHistory Add(string identity, string? tag, long bytes, long? sinceWholeBytes = null, FilledPieces? filled = null, DateOnly? night = null, RunId? run = null)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(bytes);
        using IDisposable alone = disk.Lock();
        string card = CardOf(identity, tag);
        string[] lines = Load();
        CardHistory before = Together(lines.Select(ParseLine).OfType<(CardHistory, string)>(), card);
        if (run is not null && before.LastRun == run)
        {
            return before;
        }

        CardHistory now = before.After(bytes, sinceWholeBytes, filled ?? FilledPieces.None, night) with { LastRun = run ?? before.LastRun };

        // A line this version does not understand is kept as it is.
        IEnumerable<string> others = lines.Where(line => ParseLine(line) is not { } known || known.Card != card);
        string lastNight = now.LastNight is { } last ? string.Create(CultureInfo.InvariantCulture, $";{last:yyyy-MM-dd}/{now.LastNightBytes}/{now.LastRun}") : "";
        string written = now is { SinceWholeBytes: null, Filled.Count: 0, LastNight: null }
            ? string.Create(CultureInfo.InvariantCulture, $"{now.WrittenBytes}")
            : string.Create(CultureInfo.InvariantCulture, $"{now.WrittenBytes};{now.SinceWholeBytes?.ToString(CultureInfo.InvariantCulture) ?? Never};{now.Filled}{lastNight}");
        using (ILogFile file = disk.Create(NewName))
        {
            file.Write(0, Encoding.UTF8.GetBytes(string.Join('\n', others.Append($"{written}\t{card}")) + "\n"));
            file.Sync();
        }

        disk.Rename(NewName, FileName);
        disk.SyncFolder();
        return now;
    }

    private string[] Load()
    {
        if (!disk.List().Contains(FileName))
        {
            return [];
        }

        using ILogFile file = disk.Open(FileName, writable: false);
        if (file.Length > LimitBytes)
        {
            throw new IOException($"The odometer in {disk.Name} is damaged (too long); move it away to start anew.");
        }

        byte[] bytes = new byte[file.Length];
        int held = file.Read(0, bytes);
        return Encoding.UTF8.GetString(bytes, 0, held).Split('\n', StringSplitOptions.RemoveEmptyEntries);
    }

    private static CardHistory Together(IEnumerable<(CardHistory History, string Card)> lines, string card) => lines
        .Where(line => line.Card == card)
        .Aggregate(CardHistory.None, (all, line) => all.With(line.History));

    private static (CardHistory History, string Card)? ParseLine(string line)
    {
        int tab = line.IndexOf('\t');
        string[] parts = tab > 0 ? line[..tab].Split(';') : [];
        if (parts.Length is not (1 or 3 or 4) || Number(parts[0]) is not { } bytes)
        {
            return null;
        }

        if (parts.Length == 1)
        {
            return (new CardHistory(bytes, null, FilledPieces.None), line[(tab + 1)..]);
        }

        long? sinceWhole = Number(parts[1]);
        (DateOnly Night, long Bytes, RunId? Run)? last = parts.Length == 4 ? NightOf(parts[3]) : null;
        return (sinceWhole is not null || parts[1] == Never) && FilledPieces.Parse(parts[2]) is { } filled && (parts.Length == 3 || last is not null)
            ? (new CardHistory(bytes, sinceWhole, filled) { LastNight = last?.Night, LastNightBytes = last?.Bytes ?? 0, LastRun = last?.Run }, line[(tab + 1)..])
            : null;
    }

    private static (DateOnly Night, long Bytes, RunId? Run)? NightOf(string text) =>
        text.Split('/') is [var day, var bytes, var run] && DateOnly.TryParseExact(day, "yyyy-MM-dd", CultureInfo.InvariantCulture, DateTimeStyles.None, out DateOnly night)
            && Number(bytes) is { } number
            ? (night, number, RunId.TryParse(run, out RunId id) ? id : null)
            : null;

    private static long? Number(string text) => long.TryParse(text, NumberStyles.None, CultureInfo.InvariantCulture, out long number) ? number : null;

    private static string CardOf(string identity, string? tag) => $"{OneLine(identity)}\t{OneLine(tag ?? "")}";

    private static string OneLine(string text) => text.Replace('\t', ' ').Replace('\n', ' ').Replace('\r', ' ');
}
