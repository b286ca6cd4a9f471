using System.Globalization;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.CrossChecks;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Ranking;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Report.Building;

/// <summary>The tables behind the cards. A table without rows is left out.</summary>
internal static class Comparisons
{
    public static IReadOnlyList<ReportTable> Build(ReportSource source)
    {
        AnalysisResult analysis = source.Analysis;
        ReportTable[] all =
        [
            .. analysis.Rankings.Skip(1).Select((table, i) => OtherContext(source, table, i + 2)),
            Laboratory(source),
            Boards(analysis.BoardEffects),
            SharedCards.Build(analysis.Cards),
            Precision(analysis.Precision),
            FirstRuns(analysis.FirstRunEffects),
            DriftTable.Build(analysis.Cards),
            SensitivityTable.Build(source),
            Separations(source),
            Tonight(source),
        ];
        return [.. all.Where(t => t.Rows.Count > 0)];
    }

    private static ReportTable OtherContext(ReportSource source, RankingTable table, int number) => new(
        "context-" + Wording.Number(number), $"Ranking in context {Wording.Number(number)}",
        $"Figures of two contexts are never compared. This table holds for: {table.Context.Text}.",
        [new("Rank", false), new("Card", false), new("Performance (1 = reference)", true), new("Bounds are", false)],
        [.. table.Cards.Select(c => (IReadOnlyList<string>)
            [Wording.Rank(new ReportRank(c.Best, c.Worst, table.Cards.Count, c.Group, c.IsProvisional)), Title(source, c.Name), CardBuilder.Composite(c).Line, CardBuilder.Composite(c).Bounds])]);

    // What the intake found stands beside the delivery counts already.
    private static ReportTable Laboratory(ReportSource source) => new(
        "laboratory", "Findings about the laboratory", "What belongs to boards, clocks and deliveries, not to one card.",
        [new("Severity", false), new("Finding", false), new("Values", false), new("To settle it", false), new("Source", false)],
        [.. source.Analysis.LaboratoryFindings.Where(f => !source.IsOfIntake(f)).Select(ReportFinding.From).Select(f => (IReadOnlyList<string>)[f.Severity, f.Text, Wording.Values(f.Values), f.Settles, $"{f.Id}, {f.Source}"])]);

    private static ReportTable Boards(IReadOnlyList<BoardEffect> effects) => new(
        "boards", "Board against card", "How much faster or slower a board measures the cards it shares with others (median polish on logarithms).",
        [new("Board", false), new("Metric", false), new("Context", false), new("Shared cards", true), new("Effect, %", true), new("p", true), new("Holds after correction", false)],
        [.. effects.Select(e => (IReadOnlyList<string>)
            [e.Board, MetricBuilder.Trial(e.Key), e.Key.Context.Text, Wording.Number(e.Cards), Signed(e.Percent), e.P is double p ? MetricBuilder.P(p) : "n/a", e.IsFinding ? "yes" : "no"])]);

    private static ReportTable Precision(IReadOnlyList<BoardPrecision> precision) => new(
        "precision", "Repeatability and reproducibility",
        "Two results on one board differ by less than r, two on different boards by less than R, in 95 % of cases (ISO 5725-2, on logarithms).",
        [new("Metric", false), new("Context", false), new("Boards", true), new("r, %", true), new("R, %", true)],
        [.. precision.Select(p => (IReadOnlyList<string>)
            [MetricBuilder.Trial(p.Key), p.Key.Context.Text, Wording.Number(p.Boards), Figure.Of(p.RepeatabilityPercent, 1).Text, Figure.Of(p.ReproducibilityPercent, 1).Text])]);

    private static ReportTable FirstRuns(IReadOnlyList<FirstRunEffect> effects) => new(
        "first-runs", "First repetitions", "Whether the first figure of a sequence is the worst more often than chance allows.",
        [new("Metric", false), new("Plan", false), new("Sequences", true), new("First is worst", true), new("p", true), new("First against rest, %", true), new("Set aside", true)],
        [.. effects.Select(e => (IReadOnlyList<string>)
            [MetricBuilder.Name(e.Kind), e.Plan, Wording.Number(e.Sequences), Wording.Number(e.FirstIsWorst), MetricBuilder.P(e.P), Signed(e.MedianPercent), Wording.Number(e.WarmUp)])]);

    private static ReportTable Separations(ReportSource source) => new(
        "separations", "What would tell neighbours apart", "Further complete repetitions needed, if medians and spreads are what they look like now. Only pairs within reach of 30.",
        [new("Better now", false), new("Worse now", false), new("Ahead by, %", true), new("More on the better", true), new("More on the worse", true)],
        [.. (source.Ranking?.Separations ?? []).Where(p => p.IsReachable && p.MoreOnBetter + p.MoreOnWorse <= 30).OrderBy(p => p.MoreOnBetter + p.MoreOnWorse).Take(20)
            .Select(p => (IReadOnlyList<string>)
            [
                Title(source, p.Better), Title(source, p.Worse), Figure.Of((p.Ratio - 1) * 100, 1).Text, Wording.Number(p.MoreOnBetter), Wording.Number(p.MoreOnWorse),
            ])]);

    private static ReportTable Tonight(ReportSource source) => new(
        "tonight", "Proposed for the coming night", "Runs that would answer the most open questions per hour.",
        [new("Card", false), new("Board", false), new("Plan", false), new("Runs", true), new("Hours", true), new("Why", false)],
        [.. source.Analysis.Tonight.Take(20).Select(s => (IReadOnlyList<string>)
            [Title(source, s.Name), s.Board ?? "any", s.Plan ?? "–", Wording.Number(s.Runs), Figure.Of(s.Hours, 1).Text, s.Reason])]);

    /// <summary>What tables call a card.</summary>
    public static string Title(ReportSource source, string name) => source.Analysis.Card(name) is { } card ? ReportSource.Title(card) : name;

    /// <summary>A percentage with its sign.</summary>
    public static string Signed(double percent)
    {
        string text = Figure.Of(percent, 1).Text;
        return text.StartsWith('-') || double.Parse(text, CultureInfo.InvariantCulture) == 0 ? text : "+" + text;
    }
}
