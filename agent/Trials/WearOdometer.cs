using System.Globalization;
using System.Text;
using Cardassay.Journal;

namespace Cardassay.Agent.Trials;

/// <summary>
/// Bytes written to each card by all runs of this board, per identity and tag. Kept in one text file, a line for each card:
/// bytes, identity and tag, separated by tabs. A new file is written and synced before it takes the old one's place, so a
/// power cut leaves the old or the new one.
/// </summary>
/// <param name="disk">A folder that holds nothing but the odometer.</param>
public sealed class WearOdometer(ILogDisk disk)
{
    private const string FileName = "odometer";
    private const string NewName = "odometer.new";

    // A board would have to wear out ten thousand cards to get near it.
    private const long LimitBytes = 4 * 1024 * 1024;

    /// <summary>Bytes written so far; 0 for a card never written here.</summary>
    /// <param name="identity">Identity text of the card.</param>
    /// <param name="tag">Its sticker, or null.</param>
    /// <exception cref="IOException">The file is there but cannot be read.</exception>
    public long BytesWritten(string identity, string? tag) =>
        Load().Select(ParseLine).Where(l => l is not null && l.Value.Card == CardOf(identity, tag)).Sum(l => l!.Value.Bytes);

    /// <summary>Adds what a run wrote and returns the new sum, which is on disk by then.</summary>
    /// <param name="identity">Identity text of the card.</param>
    /// <param name="tag">Its sticker, or null.</param>
    /// <param name="bytes">Bytes written, 0 or more.</param>
    /// <exception cref="IOException">It could not be kept; the old sums still are.</exception>
    /// <exception cref="LogInUseException">Another agent is at it this very moment; try again.</exception>
    public long Add(string identity, string? tag, long bytes)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(bytes);
        using IDisposable alone = disk.Lock();
        string card = CardOf(identity, tag);
        long sum = bytes;
        var lines = new List<string>();
        foreach (string line in Load())
        {
            // A line this version does not understand is kept as it is.
            if (ParseLine(line) is { } known && known.Card == card)
            {
                sum += known.Bytes;
            }
            else
            {
                lines.Add(line);
            }
        }

        lines.Add(string.Create(CultureInfo.InvariantCulture, $"{sum}\t{card}"));
        using (ILogFile file = disk.Create(NewName))
        {
            file.Write(0, Encoding.UTF8.GetBytes(string.Join('\n', lines) + "\n"));
            file.Sync();
        }

        disk.Rename(NewName, FileName);
        disk.SyncFolder();
        return sum;
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

    private static (long Bytes, string Card)? ParseLine(string line)
    {
        int tab = line.IndexOf('\t');
        return tab > 0 && long.TryParse(line.AsSpan(0, tab), NumberStyles.None, CultureInfo.InvariantCulture, out long bytes)
            ? (bytes, line[(tab + 1)..])
            : null;
    }

    private static string CardOf(string identity, string? tag) => $"{OneLine(identity)}\t{OneLine(tag ?? "")}";

    private static string OneLine(string text) => text.Replace('\t', ' ').Replace('\n', ' ').Replace('\r', ' ');
}
