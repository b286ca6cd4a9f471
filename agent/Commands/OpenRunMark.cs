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
        mark.At("", CardHistory.None);
        return mark;
    }

    /// <summary>Says at which step the run is and what it has written, before the step begins.</summary>
    internal void At(string step, CardHistory written)
    {
        // Beside it and then in its place: a power cut leaves the old mark or the new one, never an empty file.
        string fresh = _path + ".new";
        using (FileStream file = new(fresh, FileMode.Create, FileAccess.Write, FileShare.None))
        {
            file.Write(System.Text.Encoding.UTF8.GetBytes($"{_runId}\n{_duty}\n{step}\n{_card}\n{written.Text}\n"));
            file.Flush(flushToDisk: true);
        }

        File.Move(fresh, _path, overwrite: true);
        SyncFolder(_path);
    }

    /// <summary>Closes a run that was cut off. Returns what it was, or null when there was none.</summary>
    internal static InterruptedRun? CloseInterrupted(AgentFolder folder, ObservationJournal journal)
    {
        if (Read(folder) is not { } open)
        {
            return null;
        }

        const string reason = "The board lost power or the agent was killed during the run.";
        journal.Record(new RunClosed
        {
            RunId = open.Run, Outcome = RunOutcome.Interrupted, Reason = reason, BytesWritten = open.Written.WrittenBytes, OdometerBytes = Count(folder, open),
        });
        return new InterruptedRun(open.Run, open.Duty, open.Step, reason);
    }

    /// <summary>The history of a card with what a run had written that was cut off and is not counted yet.</summary>
    internal static CardHistory With(CardHistory history, AgentFolder folder, string identity, string? tag) =>
        Read(folder) is { Written.WrittenBytes: > 0 } open && open.Identity == OneLine(identity) && open.Tag == OneLine(tag) && open.Run != history.LastRun
            ? history.After(open.Written.WrittenBytes, open.Written.SinceWholeBytes, open.Written.Filled, open.Night)
            : history;

    /// <summary>Counts what the run had written on its card, once, and in the night in which it was written.</summary>
    /// <returns>All the agent wrote to the card by then; 0 where it is not known.</returns>
    private static long Count(AgentFolder folder, Open open)
    {
        if (open.Written.WrittenBytes == 0 || open.Identity.Length == 0)
        {
            return 0;
        }

        try
        {
            Directory.CreateDirectory(folder.Odometer);
            return new WearOdometer(new RealLogDisk(folder.Odometer))
                .Add(open.Identity, open.Tag, open.Written.WrittenBytes, open.Written.SinceWholeBytes, open.Written.Filled, open.Night, open.Run).WrittenBytes;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            return 0; // a start must not fail for it
        }
    }

    private static Open? Read(AgentFolder folder)
    {
        string[] lines = File.Exists(folder.OpenRun) ? File.ReadAllLines(folder.OpenRun) : [];
        string Line(int index) => lines.ElementAtOrDefault(index) ?? "";
        return RunId.TryParse(Line(0).Trim(), out RunId run)
            ? new Open(run, Line(1), Line(2), Line(3), Line(4), CardHistory.Parse(Line(5)) ?? CardHistory.None, Night.Of(File.GetLastWriteTimeUtc(folder.OpenRun)))
            : null;
    }

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

    /// <summary>What the file says.</summary>
    private sealed record Open(RunId Run, string Duty, string Step, string Identity, string Tag, CardHistory Written, DateOnly Night);
}
