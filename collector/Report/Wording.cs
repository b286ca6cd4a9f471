using System.Globalization;
using Cardassay.Collector.Analysis.Ranking;
using Cardassay.Collector.Report.Model;
using Cardassay.Identity;

namespace Cardassay.Collector.Report;

/// <summary>Words and orders that all renderings share.</summary>
public static class Wording
{
    /// <summary>The mark of made-up data.</summary>
    public const string Invented = "INVENTED DEMONSTRATION DATA";

    /// <summary>What stands beside it.</summary>
    public static string InventedMeaning(ReportModel model)
    {
        int invented = model.Cards.Count(c => c.Invented);
        return invented == model.Cards.Count ? "Boards, cards, makers and figures in this report are made up; nothing here was measured."
            : $"{Number(invented)} of {Number(model.Cards.Count)} cards are made up, the others are not.";
    }

    /// <summary>Metrics in the order every table shows them: what a system disk needs most comes first, sequential last.</summary>
    public static readonly IReadOnlyList<(string Key, string Name)> RankedMetrics =
    [
        ("randomRead", "Random read"),
        ("randomWrite", "Random write"),
        ("synchronousWrite", "Synchronous write"),
        ("sequentialRead", "Sequential read"),
        ("sequentialWrite", "Sequential write"),
    ];

    /// <summary>Rows a chart with one row per card holds, so that it stays one screen.</summary>
    public const int RowsPictured = 60;

    /// <summary>", the first 60 of 1000" behind a caption; empty when all are shown.</summary>
    public static string FirstOf(int shown, int all) => shown == all ? "" : $", the first {Number(shown)} of {Number(all)}";

    /// <summary>The rank of a card as printed: "2–4", "2–4 provisional", "unranked".</summary>
    public static string Rank(ReportRank? rank) =>
        rank is null ? "unranked" : rank.Provisional ? rank.Text + " provisional" : rank.Text;

    /// <summary>Beside a rank that is missing or provisional: why ("unranked: a used card", "provisional: 1 run"); empty for any other.</summary>
    public static string RankNote(ReportCard card) => card.Rank switch
    {
        null => "unranked: " + (card.Unranked is { Length: > 0 } why ? why : "reason not known"),
        { Provisional: false } => "",
        _ when card.Metrics.Any(m => m.HandKept) => "provisional: kept by hand",
        _ when card.Composite is { Runs: < RankedCards.LeastRuns and var runs } => $"provisional: {Count(runs, "run", "runs")}",
        _ => "provisional: one night",
    };

    /// <summary>What stands beside the verdict in a table of ranks: why there is no firm rank, and stalls.</summary>
    public static string Notes(ReportCard card) => string.Join("; ", new[] { card.Verdict, RankNote(card), card.StallNote }.Where(n => n.Length > 0));

    /// <summary>Cards that stand in the table of ranks: a computer's own disk is none of them.</summary>
    public static IEnumerable<ReportCard> InRankTable(ReportModel model) => model.Cards.Where(c => !c.IsFixedDisk);

    /// <summary>What is left out of the table of ranks, as a sentence; empty when nothing is.</summary>
    public static string NotInRankTable(ReportModel model)
    {
        string[] disks = [.. model.Cards.Where(c => c.IsFixedDisk).Select(c => c.Title)];
        return disks.Length == 0 ? "" : $"Not in the table: {string.Join(", ", disks)}, {(disks.Length == 1 ? "a computer's own disk and no card" : "computers' own disks and no cards")}.";
    }

    /// <summary>Heading of the tables that only a statistician reads.</summary>
    public const string Statistics = "For those who check the statistics";

    /// <summary>What follows from these tables, as a sentence; stands on top of them.</summary>
    public static string StatisticsLead(ReportModel model) =>
        (model.BoardStatements.Count > 0 ? string.Join(' ', model.BoardStatements) : "No card was measured on two boards, so boards cannot be held against each other.") + " The tables behind it:";

    /// <summary>Heading of a group of cards in the ranking.</summary>
    public static string Group(ReportCard card, int members) => card.Rank switch
    {
        null => "Unranked",
        { Group: var group } when members == 1 => string.Create(CultureInfo.InvariantCulture, $"Group {group}"),
        { Group: var group } => string.Create(CultureInfo.InvariantCulture, $"Group {group}: {members} cards whose order among themselves is not settled"),
    };

    /// <summary>Key by which the ranking is cut into groups: the groups in order, then the unranked cards.</summary>
    public static int GroupKey(ReportCard card) => card.Rank switch
    {
        null => int.MaxValue,
        { Group: var group } => group,
    };

    /// <summary>"none planned here" is not zero planned.</summary>
    public static string Planned(NightSummary night) =>
        night.RunsPlanned is int planned ? Number(planned) : "no schedule known";

    /// <summary>"1 trial", "2 trials".</summary>
    public static string Count(long count, string one, string many) => Number(count) + " " + (count == 1 ? one : many);

    /// <summary>A day as tables print it: "2031-03-12".</summary>
    public static string Day(DateOnly day) => day.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);

    /// <summary>A whole number, invariant culture.</summary>
    public static string Number(long value) => value.ToString(CultureInfo.InvariantCulture);

    /// <summary>The night in one sentence.</summary>
    public static string NightLine(NightSummary night) => string.Create(
        CultureInfo.InvariantCulture,
        $"{Count(night.RunsBegun, "run", "runs")} begun ({(night.RunsPlanned is int p ? Number(p) + " planned" : "no schedule known")}), {night.RunsCompleted} completed{(night.IsMissingKnown ? $", {night.RunsMissing} missing" : "")}; {Count(night.TrialsMeasured, "trial", "trials")} measured, {night.TrialsInvalid} invalid.");

    /// <summary>The delivery counts in one sentence.</summary>
    public static string IntegrityLine(ReportIntegrity integrity) => integrity is { Received: { } received, Gaps: { } gaps, Conflicts: { } conflicts }
        ? $"{Count(received, "record", "records")} received, {Count(gaps, "gap", "gaps")}, {Count(conflicts, "conflict", "conflicts")}{LossClause(integrity)}."
        : $"what was delivered is counted up to today and not night by night{LossClause(integrity)}; see the report of the last night.";

    /// <summary>What the intake log lost, as the end of a sentence; "" when it lost nothing.</summary>
    public static string LossClause(ReportIntegrity integrity)
    {
        string lost = integrity.EntriesLost == 0 ? "" : $", {Count(integrity.EntriesLost, "entry", "entries")} of the intake log lost";
        string stored = integrity.EntriesOnlyStored == 0 ? "" : $", {Count(integrity.EntriesOnlyStored, "entry", "entries")} of the intake log only in the database";
        return lost + stored + (integrity.LossesAreAcknowledged && lost.Length + stored.Length > 0 ? " (acknowledged)" : "");
    }

    /// <summary>One trouble in one line: "3 trials invalid, T-07 in bench-2: why".</summary>
    public static string TroubleLine(Trouble trouble)
    {
        string unit = trouble.What == "invalid" ? Count(trouble.Count, "trial", "trials") : Count(trouble.Count, "run", "runs");
        string where = string.Join(" in ", new[] { trouble.Card, trouble.Board }.Where(t => t.Length > 0));
        return $"{unit} {trouble.What}{(where.Length > 0 ? ", " + where : "")}: {trouble.Why}";
    }

    /// <summary>Bounds with their kind: "[5301–5518]" for an interval, "range 5301–5518" below six figures, "single figure" for one.</summary>
    public static string Bounds(ReportMetric metric) =>
        metric.HandKept ? metric.Runs == 1 ? "kept by hand" : $"kept by hand, range {metric.Low.Text}–{metric.High.Text}"
        : metric.IsInterval ? $"[{metric.Low.Text}–{metric.High.Text}]"
        : metric.Runs == 1 ? "single figure"
        : $"range {metric.Low.Text}–{metric.High.Text}";

    /// <summary>Values of a finding in one line.</summary>
    public static string Values(IReadOnlyList<FindingValue> values) => string.Join("; ", values.Select(v => $"{v.Name}: {v.Value}"));

    /// <summary>What a point's state is called.</summary>
    public static string State(PointState state) => state switch
    {
        PointState.Counted => "counts",
        PointState.Outlier => "counts, outlier",
        PointState.WarmUp => "warm-up, set aside",
        PointState.Closing => "closing repeat, set aside",
        _ => "invalid",
    };
}
