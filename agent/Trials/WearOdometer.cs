using System.Text;
using Cardassay.Journal;
using Cardassay.Trials;

namespace Cardassay.Agent.Trials;

/// <summary>
/// What was written to each card by all runs of this board, per identity and tag. Kept in one text file, a line for each card: what was
/// written (<see cref="CardHistory.Text"/>), identity and tag, separated by tabs. No run is counted twice. A new file is written and synced
/// before it takes the old one's place, so a power cut leaves the old or the new one.
/// </summary>
/// <param name="disk">A folder that holds nothing but the odometer.</param>
public sealed class WearOdometer(ILogDisk disk)
{
    private const string FileName = "odometer";
    private const string NewName = "odometer.new";

    /// <summary>
    /// Two runs of one agent may end at one moment, and each waits for the other; the lock on the disk is against another agent.
    /// </summary>
    private static readonly Lock s_inProcess = new();

    // A board would have to wear out ten thousand cards to get near it.
    private const long LimitBytes = 4 * 1024 * 1024;

    /// <summary>What was written so far.</summary>
    /// <param name="identity">Identity text of the card.</param>
    /// <param name="tag">Its sticker, or null.</param>
    /// <exception cref="IOException">The file is there but cannot be read.</exception>
    public CardHistory HistoryOf(string identity, string? tag) =>
        Together(Load().Select(ParseLine).OfType<(CardHistory, string)>(), CardOf(identity, tag));

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
    public CardHistory Add(string identity, string? tag, long bytes, long? sinceWholeBytes = null, FilledPieces? filled = null,
        DateOnly? night = null, RunId? run = null)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(bytes);
        using Lock.Scope one = s_inProcess.EnterScope();
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
        using (ILogFile file = disk.Create(NewName))
        {
            file.Write(0, Encoding.UTF8.GetBytes(string.Join('\n', others.Append($"{now.Text}\t{card}")) + "\n"));
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
        return tab > 0 && CardHistory.Parse(line[..tab]) is { } history ? (history, line[(tab + 1)..]) : null;
    }

    private static string CardOf(string identity, string? tag) => $"{OneLine(identity)}\t{OneLine(tag ?? "")}";

    private static string OneLine(string text) => text.Replace('\t', ' ').Replace('\n', ' ').Replace('\r', ' ');
}
