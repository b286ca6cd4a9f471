using System.Globalization;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Statistics;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Report.Building;

/// <summary>Drift over nights: the slopes as a table, the medians of the most telling series as a picture.</summary>
internal static class DriftTable
{
    public static ReportTable Build(IReadOnlyList<CardResult> cards)
    {
        (CardResult Card, MetricSummary Series, Drift Drift)[] all =
            [.. from card in cards from metric in card.Metrics where metric.Drift is not null select (card, metric, metric.Drift)];
        return new ReportTable(
            "drift", "Drift over nights", "Slope of the nights' medians of one series on one board (Theil-Sen, exact Mann-Kendall, p of this series alone); shown from five nights on. What is called a drift rests on the card + board model, over all boards and corrected over all cards.",
            [
                new("Card", false), new("Metric", false), new("Board", false), new("Nights", true), new("First and last night's median", false), new("% per night", true),
                new("% per 100 GB written", true), new("p", true),
            ],
            [.. all.Select(d => (IReadOnlyList<string>)
                [
                    ReportSource.Title(d.Card), MetricBuilder.Trial(d.Series.Key), d.Drift.Board, Wording.Number(d.Drift.Nights), Ends(d.Series, d.Drift), Comparisons.Signed(d.Drift.PercentPerNight),
                    d.Drift.PercentPer100Gigabytes is double per ? Comparisons.Signed(per) : "n/a", MetricBuilder.P(d.Drift.P),
                ])])
        {
            Pictures = Picture([.. all.OrderBy(d => d.Drift.P).ThenByDescending(d => Math.Abs(d.Drift.PercentPerNight)).Take(DriftPicture.MostLines)], all.Length),
        };
    }

    private static IReadOnlyList<ReportPicture> Picture((CardResult Card, MetricSummary Series, Drift Drift)[] shown, int all)
    {
        if (shown.Length == 0)
        {
            return [];
        }

        DriftLine[] lines = [.. shown.Select(d => Line(d.Card, d.Series, d.Drift))];
        string which = all > shown.Length ? $"the {Wording.Number(shown.Length)} series with the smallest p of {Wording.Number(all)}" : "every series";
        string text = $"Median of each night as % of the series' middle night, {which}: "
            + string.Join("; ", lines.Select(l => $"{l.Name} from {Figure.Of(l.Points[0].Percent, 1).Text} % to {Figure.Of(l.Points[^1].Percent, 1).Text} %")) + ". The table gives the slopes.";
        return [new DriftPicture("Medians night by night", text, lines)];
    }

    private static DriftLine Line(CardResult card, MetricSummary series, Drift drift)
    {
        (DateOnly Night, double Median)[] nights = Nights(series, drift.Board);
        double middle = Summary.MedianOf([.. nights.Select(n => n.Median)]);
        return new DriftLine(
            $"{ReportSource.Title(card)}, {MetricBuilder.Name(series.Kind).ToLowerInvariant()}, {drift.Board}",
            [.. nights.Select(n => new DriftPoint(n.Night, 100 * n.Median / middle))]);
    }

    private static string Ends(MetricSummary series, Drift drift)
    {
        (DateOnly Night, double Median)[] nights = Nights(series, drift.Board);
        int decimals = Figure.DecimalsFor(nights[0].Median);
        return $"{Wording.Day(nights[0].Night)}: {Figure.Of(nights[0].Median, decimals).Text} {series.Unit}; {Wording.Day(nights[^1].Night)}: {Figure.Of(nights[^1].Median, decimals).Text} {series.Unit}";
    }

    private static (DateOnly Night, double Median)[] Nights(MetricSummary series, string board) =>
        [.. series.Values.Where(v => v.Board == board).GroupBy(v => v.Night).OrderBy(g => g.Key).Select(g => (g.Key, Summary.MedianOf([.. g.Select(v => v.Value)])))];
}
