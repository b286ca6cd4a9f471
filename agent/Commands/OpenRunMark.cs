using Cardassay.Agent.Delivery;
using Cardassay.Agent.Trials;
using Cardassay.Journal;
using Cardassay.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>
/// A file that exists while a run is going on: which run, for which duty of the schedule, at which step it is, on which card, and what it had written to
/// that when the step began. Found at a start, it says that the run before was cut off: that run is then closed as interrupted, what it measured stays, and
/// what it wrote counts on the card. Coming and going are on the
/// disk when a call returns: a mark that a power cut brought back would call a whole run interrupted.
/// </summary>
internal sealed class OpenRunMark
{
    private readonly string _path;
    private readonly RunId _runId;
    private readonly string _duty;
    private readonly string _card;

    private OpenRunMark(string path, RunId runId, string duty, string card)
    {
        _path = path;
        _runId = runId;
        _duty = duty;
        _card = card;
    }

    /// <summary>Marks a run as going on.</summary>
    /// <param name="folder">The agent's folder.</param>
    /// <param name="runId">Which run.</param>
    /// <param name="duty">Which run of the schedule; null for one started by hand.</param>
    /// <param name="identity">Identity of the card; null where there is none.</param>
    /// <param name="tag">Its sticker, or null.</param>
    internal static OpenRunMark Set(AgentFolder folder, RunId runId, string? duty, string? identity, string? tag)
    {
        Directory.CreateDirectory(folder.Path);
        var mark = new OpenRunMark(folder.OpenRun, runId, duty ?? "", $"{OneLine(identity)}\n{OneLine(tag)}");
        mark.At("", WrittenSoFar.Nothing);
        return mark;
    }

    /// <summary>Says at which step the run is and what it has written, before the step begins.</summary>
    internal void At(string step, WrittenSoFar written)
    {
        // Beside it and then in its place: a power cut leaves the old mark or the new one, never an empty file.
        string fresh = _path + ".new";
        using (FileStream file = new(fresh, FileMode.Create, FileAccess.Write, FileShare.None))
        {
            file.Write(System.Text.Encoding.UTF8.GetBytes($"{_runId}\n{_duty}\n{step}\n{_card}\n{written}\n"));
            file.Flush(flushToDisk: true);
        }

        File.Move(fresh, _path, overwrite: true);
        SyncFolder(_path);
    }

    /// <summary>Closes a run that was cut off. Returns what it was, or null when there was none.</summary>
    internal static InterruptedRun? CloseInterrupted(AgentFolder folder, ObservationJournal journal)
    {
        string[] lines = File.Exists(folder.OpenRun) ? File.ReadAllLines(folder.OpenRun) : [];
        if (lines.Length == 0 || !RunId.TryParse(lines[0].Trim(), out RunId runId))
        {
            return null;
        }

        const string reason = "The board lost power or the agent was killed during the run.";
        (long bytes, long odometer) = Count(folder, runId, lines);
        journal.Record(new RunClosed { RunId = runId, Outcome = RunOutcome.Interrupted, Reason = reason, BytesWritten = bytes, OdometerBytes = odometer });
        return new InterruptedRun(runId, lines.ElementAtOrDefault(1) ?? "", lines.ElementAtOrDefault(2) ?? "", reason);
    }

    /// <summary>The history of a card with what a run had written that was cut off and is not counted yet.</summary>
    internal static CardHistory With(CardHistory history, AgentFolder folder, string identity, string? tag)
    {
        string[] lines = File.Exists(folder.OpenRun) ? File.ReadAllLines(folder.OpenRun) : [];
        return WrittenIn(lines) is { Bytes: > 0 } written && lines[3] == OneLine(identity) && lines[4] == OneLine(tag)
            && RunId.TryParse(lines[0].Trim(), out RunId run) && history.LastRun != run
            ? history.After(written.Bytes, written.SinceWholeBytes, written.Filled, NightOf(folder))
            : history;
    }

    /// <summary>Counts what the run had written on its card, once, and in the night in which it was written.</summary>
    /// <returns>That, at the least, and all the agent wrote to the card by then; 0 where it is not known.</returns>
    private static (long Bytes, long OdometerBytes) Count(AgentFolder folder, RunId runId, string[] lines)
    {
        WrittenSoFar written = WrittenIn(lines);
        if (written.Bytes == 0 || lines[3].Length == 0)
        {
            return (written.Bytes, 0);
        }

        try
        {
            Directory.CreateDirectory(folder.Odometer);
            var odometer = new WearOdometer(new RealLogDisk(folder.Odometer));
            string? tag = lines[4].Length > 0 ? lines[4] : null;
            return (written.Bytes, odometer.Add(lines[3], tag, written.Bytes, written.SinceWholeBytes, written.Filled, NightOf(folder), runId).WrittenBytes);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            return (written.Bytes, 0); // a start must not fail for it
        }
    }

    private static WrittenSoFar WrittenIn(string[] lines) => WrittenSoFar.Parse(lines.ElementAtOrDefault(5) ?? "");

    private static DateOnly NightOf(AgentFolder folder) => Night.Of(File.GetLastWriteTimeUtc(folder.OpenRun));

    private static string OneLine(string? text) => (text ?? "").ReplaceLineEndings(" ");

    /// <summary>Forgets a run that was closed.</summary>
    internal static void Forget(AgentFolder folder)
    {
        File.Delete(folder.OpenRun);
        SyncFolder(folder.OpenRun);
    }

    internal void Clear()
    {
        // A run that came back late must not take away the mark of the one after it.
        if (File.Exists(_path) && File.ReadLines(_path).FirstOrDefault() == _runId.ToString())
        {
            File.Delete(_path);
            SyncFolder(_path);
        }
    }

    private static void SyncFolder(string file) => new RealLogDisk(Path.GetDirectoryName(file)!).SyncFolder();
}
