using Cardassay.Collector.Report.Model;
using OxyPlot;
using OxyPlot.Annotations;
using OxyPlot.Axes;

namespace Cardassay.Collector.Report.Charts;

/// <summary>Ranked cards under each other with the performance and its interval, cut into the groups that are told apart.</summary>
internal static class RanksChart
{
    /// <summary>Cards the chart shows, in the order of the ranking.</summary>
    public static ReportCard[] Shown(ReportModel model) =>
        [.. model.Cards.Where(c => c is { Rank: not null, Composite: not null }).Take(Wording.RowsPictured)];

    /// <summary>SVG elements of the chart.</summary>
    public static string Draw(IReadOnlyList<ReportCard> cards)
    {
        double high = Math.Max(1, cards.Max(c => c.Composite!.High.Raw)) * 1.05;
        PlotModel plot = RowPlot.New(
            [.. cards.Select(c => $"{c.Rank!.Text} · {c.Title}")],
            new LinearAxis
            {
                Position = AxisPosition.Bottom,
                Minimum = 0,
                Maximum = high,
                MinorTickSize = 0,
                LabelFormatter = PlotSvg.Label,
                Title = "performance under the profile, 1 = reference",
            });
        for (int i = 0; i < cards.Count; i++)
        {
            ReportComposite composite = cards[i].Composite!;
            bool firm = composite.IsInterval;
            RowPlot.Bar(plot, i, composite.Low.Raw, composite.High.Raw, firm ? Theme.Band : Theme.Soft, firm ? 10 : 1,
                firm ? LineStyle.Solid : LineStyle.Dash);
            if (i > 0 && Wording.GroupKey(cards[i]) != Wording.GroupKey(cards[i - 1]))
            {
                plot.Annotations.Add(new LineAnnotation
                {
                    Type = LineAnnotationType.Horizontal, Y = i - 0.5, Color = Theme.Soft, StrokeThickness = 1, LineStyle = LineStyle.Solid,
                    Layer = AnnotationLayer.BelowSeries,
                });
            }
        }

        Marks(plot, cards, c => c.Composite!.IsInterval, MarkerType.Circle, Theme.Data, Theme.Data, 1.8);
        Marks(plot, cards, c => !c.Composite!.IsInterval && !HandKept(c), MarkerType.Circle, Theme.Paper, Theme.Soft, 3);
        Marks(plot, cards, HandKept, MarkerType.Square, Theme.Paper, Theme.Second, 3);
        return PlotSvg.Render(plot, "rank · card", RowPlot.Height(cards.Count));
    }

    /// <summary>What the marks mean.</summary>
    public static string LegendOf(IReadOnlyList<ReportCard> cards) => new Legend()
        .Mark("<path class=f-band d=\"M0 1h12v10H0z\"/><circle class=f-data cx=6 cy=6 r=2.4 />", "level and its own 95 % interval")
        .MarkIf(cards.Any(c => !c.Composite!.IsInterval && !HandKept(c)), "<path class=\"f-none s-soft\" stroke-dasharray=\"3 2\" "
            + "d=\"M0 6h12\"/><circle class=\"f-paper s-soft\" cx=6 cy=6 r=3 />", "level without an interval")
        .MarkIf(cards.Any(HandKept), "<path class=\"f-paper s-second\" d=\"M3 3h6v6H3z\"/>", "kept by hand")
        .MarkIf(cards.Select(Wording.GroupKey).Distinct().Count() > 1, "<path class=\"f-none s-soft\" d=\"M0 6h12\"/>", "groups told apart")
        .ToString();

    /// <summary>The chart in words.</summary>
    public static string Text(IReadOnlyList<ReportCard> cards) =>
        "Performance under the profile with its interval, best group first: "
        + string.Join("; ", cards.Select(c => $"rank {Wording.Rank(c.Rank)} {c.Title} {c.Composite!.Line}")) + ".";

    private static bool HandKept(ReportCard card) => Wording.RankedMetrics.Any(m => card.Metric(m.Key) is { HandKept: true });

    private static void Marks(PlotModel plot, IReadOnlyList<ReportCard> cards, Func<ReportCard, bool> which, MarkerType type, OxyColor fill,
        OxyColor stroke, double size) =>
        RowPlot.Marks(plot,
            cards.Select((c, i) => (Card: c, Row: i)).Where(c => which(c.Card)).Select(c => (c.Card.Composite!.Value.Raw, c.Row)), type,
            fill, stroke, size);
}
