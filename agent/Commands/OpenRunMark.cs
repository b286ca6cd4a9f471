using Cardassay.Agent.Delivery;
using Cardassay.Agent.Trials;
using Cardassay.Journal;
using Cardassay.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>
/// A file that exists while a run is going on, one for each of two at once: which run, for which duty of the schedule, at which step it is,
/// on which card, and what it had written to that when the step began. Found at a start, it says that the run before was cut off: that run
/// is then closed as interrupted, what it measured stays, and what it wrote counts on the card. Coming and going are on the disk when a
/// call returns: a mark that a power cut brought back would call a whole run interrupted.
/// </summary>
internal sealed class OpenRunMark
{
    /// <summary>Runs that may go on at once, each with a file of its own.</summary>
    internal const int Lanes = 2;

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
    /// <param name="lane">0, or 1 for a run beside another.</param>
    internal static OpenRunMark Set(AgentFolder folder, RunId runId, string? duty, string? identity, string? tag, int lane = 0)
    {
        Directory.CreateDirectory(folder.Path);
        var mark = new OpenRunMark(folder.OpenRunIn(lane), runId, duty ?? "", $"{OneLine(identity)}\n{OneLine(tag)}");
        mark.At("", CardHistory.None);
        return mark;
    }

    /// <summary>Says at which step the run is and what it has written, before the step begins.</summary>
    internal void At(string step, CardHistory written)
    {
        // A power cut leaves the old mark or the new one, never an empty file.
        KeptFile.Write(_path, System.Text.Encoding.UTF8.GetBytes($"{_runId}\n{_duty}\n{step}\n{_card}\n{written.Text}\n"));
    }

    /// <summary>Closes the runs that were cut off, of every lane. Returns what they were; none when nothing was.</summary>
    internal static IReadOnlyList<InterruptedRun> CloseInterrupted(AgentFolder folder, ObservationJournal journal)
    {
        const string reason = "The board lost power or the agent was killed during the run.";
        var cut = new List<InterruptedRun>();
        foreach (Open open in Marks(folder))
        {
            journal.Record(new RunClosed
            {
                RunId = open.Run, Outcome = RunOutcome.Interrupted, Reason = reason, BytesWritten = open.Written.WrittenBytes,
                OdometerBytes = Count(folder, open),
            });
            cut.Add(new InterruptedRun(open.Run, open.Duty, open.Step, reason));
        }

        return cut;
    }

    /// <summary>The history of a card with what a run had written that was cut off and is not counted yet.</summary>
    internal static CardHistory With(CardHistory history, AgentFolder folder, string identity, string? tag) =>
        Marks(folder)
            .FirstOrDefault(
                open => open.Written.WrittenBytes > 0 && open.Identity == OneLine(identity) && open.Tag == OneLine(tag)
                    && open.Run != history.LastRun) is { } open
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
                .Add(open.Identity, open.Tag, open.Written.WrittenBytes, open.Written.SinceWholeBytes, open.Written.Filled, open.Night,
                    open.Run).WrittenBytes;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            return 0; // a start must not fail for it
        }
    }

    private static IEnumerable<Open> Marks(AgentFolder folder) =>
        Enumerable.Range(0, Lanes).Select(lane => Read(folder.OpenRunIn(lane))).OfType<Open>();

    private static Open? Read(string path)
    {
        string[] lines = File.Exists(path) ? File.ReadAllLines(path) : [];
        string Line(int index) => lines.ElementAtOrDefault(index) ?? "";
        return RunId.TryParse(Line(0).Trim(), out RunId run)
            ? new Open(run, Line(1), Line(2), Line(3), Line(4), CardHistory.Parse(Line(5)) ?? CardHistory.None,
                Night.Of(File.GetLastWriteTimeUtc(path)))
            : null;
    }

    private static string OneLine(string? text) => (text ?? "").ReplaceLineEndings(" ");

    /// <summary>Forgets the runs that were closed.</summary>
    internal static void Forget(AgentFolder folder)
    {
        for (int lane = 0; lane < Lanes; lane++)
        {
            File.Delete(folder.OpenRunIn(lane));
        }

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

/// <summary>A run that was cut off.</summary>
/// <param name="RunId">Which.</param>
/// <param name="Duty">Which run of the schedule it was ("schedule id/number"); "" for one started by hand.</param>
/// <param name="Step">The step it was at; "" when it had not come to one.</param>
/// <param name="Reason">Why it ended, as the journal says it.</param>
internal sealed record InterruptedRun(RunId RunId, string Duty, string Step, string Reason);
