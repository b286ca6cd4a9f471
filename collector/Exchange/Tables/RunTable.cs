using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Figures;

namespace Cardassay.Collector.Exchange.Tables;

/// <summary>The table of runs: where, when and how each was made, and what became of it.</summary>
internal static class RunTable
{
    private static readonly ColumnsOf<(RunRecord Run, RunUse Use, string? Tag)> Columns = new ColumnsOf<(RunRecord Run, RunUse Use, string? Tag)>()
        .Text("run", "Its number, 32 hex digits.", r => r.Run.Opened.RunId.ToString())
        .Text("tag", "Sticker of the card.", r => r.Tag)
        .Text("identity", "What the card said it is.", r => r.Run.Card?.Identity)
        .Whole("disk_bytes", "B", "Size the kernel gave.", r => r.Run.Card?.DiskBytes)
        .Day("night", "Night it counts for, named by the day it begins (noon to noon UTC).", r => r.Use.Night)
        .Moment("opened_utc", "When it began, by the board's clock.", r => r.Run.OpenedAt)
        .Moment("received_utc", "When its first record arrived, by the collector's clock.", r => r.Run.ReceivedAt)
        .Number("clock_offset_s", "s", "Collector's clock less the board's.", r => r.Run.ClockOffset.TotalSeconds)
        .Text("board", "Board.", r => r.Run.Board)
        .Text("board_model", "Model of the board, as it says.", r => r.Run.Opened.BoardModel)
        .Text("collector", "Collector it was taken over from; nothing for this one's own.", r => r.Run.Origin.Length > 0 ? r.Run.Origin : null)
        .Text("kernel", "Kernel release.", r => r.Run.Opened.KernelRelease)
        .Text("agent", "Version of the agent.", r => r.Run.Opened.AgentVersion)
        .Text("plan", "Name of the plan.", r => r.Run.Opened.PlanName)
        .Text("plan_version", "Its version.", r => r.Run.Opened.PlanVersion)
        .Text("target", "\"device\" or \"folder\".", r => Words.Target(r.Run.Opened))
        .Text("attachment", "\"slot\", \"reader\" or \"fixed\".", r => Words.Attachment(r.Run.Opened))
        .Text("file_system", "File system of a folder.", r => r.Run.Opened.FileSystem)
        .Text("outcome", "\"completed\", \"interrupted\" or \"failed\"; nothing while it is open or when the board went silent.", r => Words.Outcome(r.Run.Closed))
        .Text("reason", "Why it did not complete.", r => r.Run.Closed?.Reason)
        .Text("set_aside_rule", "Rule that sets the whole run aside.", r => r.Use.Rule is { } rule ? SetAsideRules.IdOf(rule) : null)
        .Whole("trials", "", "Trials.", r => r.Run.TrialCount)
        .Whole("counting", "", "Trials that count.", r => r.Use.Pooled)
        .Whole("written_bytes", "B", "Bytes it wrote.", r => r.Run.Closed?.BytesWritten)
        .Whole("odometer_bytes", "B", "Bytes the agent had written to the card by then.", r => r.Run.Closed?.OdometerBytes)
        .Flag("invented", "True for made-up data.", r => r.Run.Opened.Invented);

    internal static ExportTable Of(MasterData data, AnalysisResult analysis)
    {
        Dictionary<RecordKey, RunRecord> runs = data.Runs.ToDictionary(r => r.Key);
        return new ExportTable<(RunRecord Run, RunUse Use, string? Tag)>(
            "runs", "A run of a plan on a card.", Columns.All, [.. analysis.Cards.SelectMany(c => c.Runs.Select(u => (runs[u.Key], u, c.Tag)))]);
    }
}
