using Cardassay.Agent.Delivery;
using Cardassay.Journal;
using Cardassay.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>
/// A file that exists while a run is going on: which run, for which duty of the schedule, and at which step it is. Found at a start, it
/// says that the run before was cut off: that run is then closed as interrupted, and what it measured stays. Coming and going are on the
/// disk when a call returns: a mark that a power cut brought back would call a whole run interrupted.
/// </summary>
internal sealed class OpenRunMark
{
    private readonly string _path;
    private readonly RunId _runId;
    private readonly string _duty;

    private OpenRunMark(string path, RunId runId, string duty)
    {
        _path = path;
        _runId = runId;
        _duty = duty;
    }

    internal static OpenRunMark Set(AgentFolder folder, RunId runId, string? duty)
    {
        Directory.CreateDirectory(folder.Path);
        var mark = new OpenRunMark(folder.OpenRun, runId, duty ?? "");
        mark.At("");
        return mark;
    }

    /// <summary>Says at which step the run is, before the step begins.</summary>
    internal void At(string step)
    {
        // Beside it and then in its place: a power cut leaves the old mark or the new one, never an empty file.
        string fresh = _path + ".new";
        using (FileStream file = new(fresh, FileMode.Create, FileAccess.Write, FileShare.None))
        {
            file.Write(System.Text.Encoding.UTF8.GetBytes($"{_runId}\n{_duty}\n{step}\n"));
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
        journal.Record(new RunClosed { RunId = runId, Outcome = RunOutcome.Interrupted, Reason = reason });
        return new InterruptedRun(runId, lines.ElementAtOrDefault(1) ?? "", lines.ElementAtOrDefault(2) ?? "", reason);
    }

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
