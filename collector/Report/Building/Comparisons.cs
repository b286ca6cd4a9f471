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
    public static IReadOnlyList<ReportTable> Build(ReportSource source, IReadOnlyList<ReportCard> cards)
    {
        AnalysisResult analysis = source.Analysis;
        ReportTable[] all =
        [
            .. analysis.Rankings.Skip(1).Select((table, i) => OtherContext(source, table, i + 2)),
            Laboratory(source),
            ProductPrices(source.Ranking?.ProductPrices ?? []),
            ProductTrend.Build(cards),
            BoardTrend.Build(source),
            Tonight(source),
            Separations(source),
            .. new[]
            {
                Boards(analysis.BoardEffects),
                BoardPairs(analysis.BoardPairs),
                SharedCards.Build(analysis.Cards),
                DriftTable.Build(analysis.Cards),
                SensitivityTable.Build(source),
                Precision(analysis.Precision),
                FirstRuns(analysis.FirstRunEffects),
            }.Select(t => t with { IsStatistics = true }),
        ];
        return [.. all.Where(t => t.Rows.Count > 0)];
    }

    private static ReportTable OtherContext(ReportSource source, RankingTable table, int number) => new(
        "context-" + Wording.Number(number), $"Also ranked: {table.Context.NameBeside(source.Ranking!.Context)}",
        $"Figures of two contexts are never compared. All of this table: {table.Context.Text}. Performance 1 is the reference; [ ] is the 95 % interval of the card alone.",
        [new("Rank", false), new("Product", false), new("Card", false), new("Price", true), new("Performance", true)],
        [.. table.Cards.Select(c => (IReadOnlyList<string>)
            [
                Wording.Rank(new ReportRank(c.Best, c.Worst, table.Cards.Count, c.Group, c.IsProvisional)), ReportSource.Product(source.Analysis.Card(c.Name)?.Claim), Title(source, c.Name),
                CardBuilder.Offer(source.Analysis.Card(c.Name)?.Claim, source.Data.AsOf).PriceText, CardBuilder.Composite(c).Line,
            ])]);

    private static ReportTable ProductPrices(IReadOnlyList<PricedProduct> products) => new(
        "product-prices", "Price against performance, by product",
        "Beaten is a product when another is surely better and none of its prices is above this one's. Specimens that are not as claimed count neither for figures nor for prices. Products nobody beats first, at most 40.",
        [new("Product", false), new("Price", true), new("Performance (1 = reference)", true), new("Specimens with a price", true), new("Newest price", false), new("Beaten by", false)],
        [.. products.OrderBy(p => !p.OnFront).ThenBy(p => p.Currency, StringComparer.Ordinal).ThenBy(p => p.Lowest).Take(40).Select(p => (IReadOnlyList<string>)
            [
                p.Text, (p.Lowest == p.Highest ? "" : Figure.Of((double)p.Lowest, 2).Text + "–") + Figure.Of((double)p.Highest, 2).Text + " " + p.Currency,
                $"{Figure.Of(p.Composite, 2).Text} [{Figure.Of(p.Low, 2).Text}–{Figure.Of(p.High, 2).Text}]", Wording.Number(p.Specimens),
                p.Newest?.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture) ?? "date unknown", p.OnFront ? "none: on the front" : string.Join(", ", p.BeatenBy),
            ])]);

    // What the intake found stands beside the delivery counts already.
    private static ReportTable Laboratory(ReportSource source) => new(
        "laboratory", "Findings about the laboratory", "What belongs to boards, clocks and deliveries, not to one card.",
        [new("Severity", false), new("Finding", false), new("Values", false), new("To settle it", false), new("Source", false)],
        [.. source.LaboratoryFindings.Select(ReportFinding.From).Select(f => (IReadOnlyList<string>)[f.Severity, f.Text, Wording.Values(f.Values), f.Settles, $"{f.Id}, {f.Source}"])]);

    private static ReportTable Boards(IReadOnlyList<BoardEffect> effects) => new(
        "boards", "Board against card", "How much faster or slower a board measures a metric than the middle of the boards that cards link it with; every ranking has it taken out.",
        [new("Board", false), new("Metric", false), new("Context", false), new("Shared cards", true), new("Effect, %", true), new("Error, %", true), new("Differs from another board", false)],
        [.. effects.Select(e => (IReadOnlyList<string>)
            [
                e.Board, MetricBuilder.Trial(e.Key), e.Key.Context.Text, Wording.Number(e.Cards), Signed(e.Percent), e.ErrorPercent is double error ? "±" + Figure.Of(error, 1).Text : "n/a",
                e.IsFinding ? "for certain, by 3 % or more" : e.Differs ? "for certain, by less than 3 %" : "not for certain",
            ])]);

    private static ReportTable BoardPairs(IReadOnlyList<BoardPair> pairs) => new(
        "board-pairs", "Boards against each other", "One question for every two boards that cards link: do they differ over all metrics together, or in any of them? Corrected over all pairs.",
        [new("Slower", false), new("Faster", false), new("Cards on both", true), new("Metrics", true), new("Over all metrics, %", true), new("p", true), new("Largest difference that holds, %", true), new("In", false)],
        [.. pairs.OrderBy(p => p.P).Take(40).Select(p => (IReadOnlyList<string>)
            [
                p.Slower, p.Faster, Wording.Number(p.Cards), Wording.Number(p.Metrics), Signed(p.Percent), MetricBuilder.P(p.P), p.LargestPercent == 0 ? "none" : Signed(p.LargestPercent),
                p.LargestPercent == 0 ? "" : p.LargestIn,
            ])]);

    private static ReportTable Precision(IReadOnlyList<BoardPrecision> precision) => new(
        "precision", "Repeatability and reproducibility",
        "Two results on one board differ by less than r, two on different boards by less than R, in 95 % of cases (ISO 5725-2, on logarithms).",
        [new("Metric", false), new("Context", false), new("Boards", true), new("r, %", true), new("R, %", true)],
        [.. precision.Select(p => (IReadOnlyList<string>)
            [MetricBuilder.Trial(p.Key), p.Key.Context.Text, Wording.Number(p.Boards), Figure.Of(p.RepeatabilityPercent, 1).Text, Figure.Of(p.ReproducibilityPercent, 1).Text])]);

    private static ReportTable FirstRuns(IReadOnlyList<FirstRunEffect> effects) => new(
        "first-runs", "First repetitions", "Whether the first figure of a sequence is the worst, or the best, more often than chance allows.",
        [new("Metric", false), new("Plan", false), new("Sequences", true), new("First is worst", true), new("First is best", true), new("p", true), new("First against rest, %", true), new("Set aside", true)],
        [.. effects.Select(e => (IReadOnlyList<string>)
            [MetricBuilder.Name(e.Kind), e.Plan, Wording.Number(e.Sequences), Wording.Number(e.FirstIsWorst), Wording.Number(e.FirstIsBest), MetricBuilder.P(e.P), Signed(e.MedianPercent), Wording.Number(e.WarmUp)])]);

    private static ReportTable Separations(ReportSource source) => new(
        "separations", "What would tell neighbours apart", "Further runs needed, each in another night, if levels and scatter are what they look like now; runs that link boards first. Only pairs within reach of 30.",
        [new("Better now", false), new("Worse now", false), new("Ahead by, %", true), new("More runs of the better", true), new("More runs of the worse", true), new("On board", false)],
        [.. (source.Ranking?.Separations ?? []).Where(p => p.IsReachable && p.MoreOnBetter + p.MoreOnWorse <= 30).OrderBy(p => !p.IsLinking).ThenBy(p => p.MoreOnBetter + p.MoreOnWorse).Take(20)
            .Select(p => (IReadOnlyList<string>)
            [
                Title(source, p.Better), Title(source, p.Worse), Figure.Of((p.Ratio - 1) * 100, 1).Text, Wording.Number(p.MoreOnBetter), Wording.Number(p.MoreOnWorse), p.Board + (p.IsLinking ? ", to link the boards first" : ""),
            ])]);

    private static ReportTable Tonight(ReportSource source) => new(
        "tonight", "Proposed for the coming night", "Runs that would answer the most open questions per hour; what needs more nights says so. Cards that are settled, convicted or were not seen for two weeks are left alone.",
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
