using System.Text;
using Cardassay.Agent.Delivery;
using Cardassay.Journal;
using Cardassay.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>
/// A file that exists while a run is going on. Found at a start, it says that the run before was cut off: that run is then closed as
/// interrupted, and what it measured stays. Coming and going are on the disk when a call returns: a mark that a power cut brought back
/// would call a whole run interrupted.
/// </summary>
internal sealed class OpenRunMark
{
    private readonly RealLogDisk _disk;
    private readonly string _name;

    private OpenRunMark(RealLogDisk disk, string name)
    {
        _disk = disk;
        _name = name;
    }

    internal static OpenRunMark Set(AgentFolder folder, RunId runId)
    {
        var disk = new RealLogDisk(folder.Path);
        string name = Path.GetFileName(folder.OpenRun);
        using (ILogFile file = disk.Create(name))
        {
            file.Write(0, Encoding.ASCII.GetBytes(runId.ToString()));
            file.Sync();
        }

        disk.SyncFolder();
        return new OpenRunMark(disk, name);
    }

    /// <summary>Closes a run that was cut off. Returns its name, or null when there was none.</summary>
    internal static RunId? CloseInterrupted(AgentFolder folder, ObservationJournal journal)
    {
        if (!File.Exists(folder.OpenRun) || !RunId.TryParse(File.ReadAllText(folder.OpenRun).Trim(), out RunId runId))
        {
            return null;
        }

        journal.Record(new RunClosed
        {
            RunId = runId,
            Outcome = RunOutcome.Interrupted,
            Reason = "The board lost power or the agent was killed during the run.",
        });
        new OpenRunMark(new RealLogDisk(folder.Path), Path.GetFileName(folder.OpenRun)).Clear();
        return runId;
    }

    internal void Clear()
    {
        _disk.Delete(_name);
        _disk.SyncFolder();
    }
}
