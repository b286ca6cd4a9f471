using Cardassay.Agent.Delivery;
using Cardassay.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>
/// A file that exists while a run is going on. Found at a start, it says that the run before was cut off: that run is then closed as
/// interrupted, and what it measured stays.
/// </summary>
internal sealed class OpenRunMark
{
    private readonly string _path;

    private OpenRunMark(string path) => _path = path;

    internal static OpenRunMark Set(AgentFolder folder, RunId runId)
    {
        Directory.CreateDirectory(folder.Path);
        File.WriteAllText(folder.OpenRun, runId.ToString());
        return new OpenRunMark(folder.OpenRun);
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
        File.Delete(folder.OpenRun);
        return runId;
    }

    internal void Clear() => File.Delete(_path);
}
