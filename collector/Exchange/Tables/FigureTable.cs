using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Intake;
using Cardassay.Identity;
using Cardassay.Judging;
using Cardassay.Trials;

namespace Cardassay.Collector.Exchange.Tables;

/// <summary>The table of figures: a row for every trial ever measured, whether it counts or not, and for every figure kept by hand.</summary>
internal static class FigureTable
{
    private static readonly ColumnsOf<ExportRow> Columns = new ColumnsOf<ExportRow>()
        .Day("night", "Night it counts for, named by the day it begins (noon to noon UTC); of a figure kept by hand its day.", r => r.Night)
        .Text("tag", "Sticker of the card.", r => r.Card.Tag)
        .Text("identity", "What the card said it is.", r => r.Run?.Card?.Identity)
        .Text("maker", "Maker as claimed.", r => r.Card.Claim?.Maker)
        .Text("product", "Product as claimed.", r => r.Card.Claim?.Product)
        .Number("label_gigabytes", "GB", "Capacity as claimed, 10^9 bytes.", r => (double?)r.Card.Claim?.LabelGigabytes)
        .Text("condition", "\"new\" or \"used\", as claimed.", r => Words.Condition(r.Card.Claim))
        .Text("metric", "Trial kind.", r => TrialKinds.NameOf(r.Kind))
        .Number("figure", "see unit", "The figure.", r => r.Figure)
        .Text("unit", "\"IOPS\" or \"MB/s\" (10^6 bytes).", r => TrialFigure.UnitOf(r.Kind))
        .Flag("counts", "Whether it counts in the card's median.", r => r.SetAside is null)
        .Text("set_aside_rule", "Rule that sets it aside.", r => r.SetAside is { } rule ? SetAsideRules.IdOf(rule) : null)
        .Text("set_aside", "That rule as a sentence.", r => r.SetAside is { } rule ? SetAsideRules.SentenceOf(rule) : null)
        .Text("kept_by_hand", "Where a figure kept by hand comes from.", r => r.Provenance.Length > 0 ? r.Provenance : null)
        .Text("board", "Board it was measured on.", r => r.Run?.Board)
        .Text("board_model", "Model of the board, as it says.", r => r.Run?.Opened.BoardModel)
        .Text("collector", "Collector it was taken over from; nothing for this one's own.", r => r.Run?.Origin is { Length: > 0 } origin ? origin : null)
        .Text("run", "The run, as in the table of runs.", r => r.Run?.Opened.RunId.ToString())
        .Moment("run_opened_utc", "When the run began, by the board's clock.", r => r.Run?.OpenedAt)
        .Moment("journaled_utc", "When the board wrote the trial down, right after it ended, by its clock.", r => r.Trial is { JournaledUnixNs: > 0 } t ? MasterDataLoader.Time(t.JournaledUnixNs) : null)
        .Text("plan", "Name of the plan.", r => r.Run?.Opened.PlanName)
        .Text("plan_version", "Its version.", r => r.Run?.Opened.PlanVersion)
        .Text("target", "\"device\" or \"folder\".", r => Words.Target(r.Run?.Opened))
        .Text("attachment", "\"slot\", \"reader\" or \"fixed\".", r => Words.Attachment(r.Run?.Opened))
        .Text("file_system", "File system of a folder.", r => r.Run?.Opened.FileSystem)
        .Text("bus_mode", "Bus mode as the kernel names it.", r => r.Trial?.Trial.Before.BusMode)
        .Text("governor", "Governor of the processor's frequency.", r => r.Trial?.Trial.Before.Governor)
        .Number("hottest_celsius", "°C", "Highest temperature of any sensor during the trial.", r => Hottest(r.Trial?.Trial))
        .Whole("repetition", "", "Repetition within the run, from 1.", r => r.Trial?.Trial.Repetition)
        .Text("role", "\"measured\", \"warm-up\" or \"closing\".", r => Words.Role(r.Trial?.Trial))
        .Whole("block_bytes", "B", "Bytes of one operation.", r => r.Trial?.Trial.BlockBytes)
        .Whole("queue_depth", "", "Operations in flight.", r => r.Trial?.Trial.QueueDepth)
        .Whole("operations", "", "Operations completed.", r => r.Trial?.Trial.Operations)
        .Whole("bytes", "B", "Bytes transferred.", r => r.Trial?.Trial.Bytes)
        .Whole("elapsed_ns", "ns", "Duration.", r => r.Trial?.Trial.ElapsedNs)
        .Number("p50_us", "us", "Median latency; nothing where too few operations bound it.", r => Percentile(r.Trial?.Trial, 50))
        .Number("p99_us", "us", "99th percentile of the latency, likewise (299 operations).", r => Percentile(r.Trial?.Trial, 99))
        .Number("p999_us", "us", "99.9th percentile of the latency, likewise (2,995 operations).", r => Percentile(r.Trial?.Trial, 99.9))
        .Number("longest_us", "us", "Longest latency.", r => r.Trial?.Trial.Latency is { Count: > 0 } latency ? latency.MaxNs / 1e3 : null)
        .Whole("stalls", "", "Operations over the limit of a stall.", r => r.Trial?.Trial.StallCount)
        .Whole("stall_limit_ns", "ns", "That limit; nothing where none was watched for.", r => r.Trial?.Trial.StallLimitNs is > 0 and var limit ? limit : null)
        .Text("journal_epoch", "Journal of its record.", r => r.Trial?.Key.Epoch)
        .Whole("journal_sequence", "", "Place of its record in the journal.", r => r.Trial?.Key.Sequence)
        .Text("range", "Part of the card it ran on.", r => r.Trial is { } t && AddressRange.Of(t.Trial, r.Run?.Card?.DiskBytes ?? 0).Text is { Length: > 0 } range ? range : null)
        .Text("written_before", "How full the card had been written.", r => r.Trial is { } t && CardFills.TextOf(CardFills.Of(t.Trial, r.Run?.Card?.DiskBytes ?? 0)) is { Length: > 0 } fill ? fill : null)
        .Whole("pass", "", "1 for the first reads after a write, 2 for the second.", r => r.Trial?.Trial.Pass is > 0 and var pass ? pass : null)
        .Flag("invented", "True for made-up data.", r => r.Run?.Opened.Invented ?? r.Card.Claim?.Invented ?? false);

    internal static ExportTable Of(MasterData data, AnalysisResult analysis) => Of(ExportRow.Of(data, analysis));

    internal static ExportTable Of(IReadOnlyList<ExportRow> rows) => new ExportTable<ExportRow>("figures", "A trial, or a figure kept by hand.", Columns.All, rows);

    private static double? Percentile(TrialMeasured? trial, double percent) => trial?.Latency.PercentileNs(percent) / 1e3;

    private static double? Hottest(TrialMeasured? trial)
    {
        if (trial is null)
        {
            return null;
        }

        long[] all = [.. trial.During.Prepend(trial.Before).Append(trial.After).SelectMany(c => c.Temperatures).Select(t => t.MilliCelsius)];
        return all.Length == 0 ? null : all.Max() / 1000.0;
    }
}
