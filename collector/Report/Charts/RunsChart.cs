using Cardassay.Collector.Report.Model;
using OxyPlot;
using OxyPlot.Annotations;
using OxyPlot.Axes;
using OxyPlot.Series;

namespace Cardassay.Collector.Report.Charts;

/// <summary>
/// Every figure of a metric in the order measured, over its median and interval; each run as a bracket over its figures with a median of
/// its own. States differ in shape, not only in colour. All charts of a card span the same share of their medians, so that one that varies
/// more looks so.
/// </summary>
internal static class RunsChart
{
    /// <summary>SVG elements of the chart.</summary>
    /// <param name="metric">The metric.</param>
    /// <param name="scale">The scale of the card's charts.</param>
    public static string Draw(ReportMetric metric, RunsScale scale)
    {
        PlotModel plot = PlotSvg.NewPlot();
        double last = metric.Points.Count + 0.6;
        plot.Axes.Add(PlotSvg.Styled(new LinearAxis
        {
            Position = AxisPosition.Bottom, Minimum = 0.4, Maximum = last, MinimumMajorStep = 1, MinorTickSize = 0,
            LabelFormatter = PlotSvg.Label,
            Title = "in order of measurement",
        }));
        (double low, double high) = scale.Of(metric);
        plot.Axes.Add(PlotSvg.Styled(new LinearAxis
        {
            Position = AxisPosition.Left, Minimum = low, Maximum = high, LabelFormatter = PlotSvg.Label, MinorTickSize = 0,
        }));
        plot.Annotations.Add(new RectangleAnnotation
        {
            MinimumX = 0.4, MaximumX = last, MinimumY = metric.Low.Raw, MaximumY = metric.High.Raw, Fill = Theme.Band, StrokeThickness = 0,
            Layer = AnnotationLayer.BelowSeries,
        });
        Line(plot, 0.4, last, metric.Median.Raw, metric.Median.Raw, Theme.Data, LineStyle.Solid, 1.2);
        if (metric.ByRun.Count > 1)
        {
            foreach (ReportPart run in metric.ByRun)
            {
                Run(plot, run);
            }
        }

        foreach (int change in metric.Changes)
        {
            Line(plot, change + 0.5, change + 0.5, low, high, Theme.Bad, LineStyle.Dash, 1);
        }

        Marks(plot, metric, scale, PointState.Counted, MarkerType.Circle, Theme.Ink, Theme.Ink, 2.6);
        Marks(plot, metric, scale, PointState.Outlier, MarkerType.Diamond, Theme.Paper, Theme.Bad, 4.2);
        Marks(plot, metric, scale, PointState.WarmUp, MarkerType.Circle, Theme.Paper, Theme.Soft, 2.8);
        Marks(plot, metric, scale, PointState.Closing, MarkerType.Square, Theme.Paper, Theme.Soft, 2.8);
        Marks(plot, metric, scale, PointState.Invalid, MarkerType.Cross, OxyColors.Undefined, Theme.Bad, 3.4);
        Beyond(plot, metric, scale, isAbove: true);
        Beyond(plot, metric, scale, isAbove: false);
        return PlotSvg.Render(plot, metric.Unit);
    }

    /// <summary>What the marks mean.</summary>
    public static string LegendOf(ReportMetric m, RunsScale scale) => new Legend()
        .Mark("<circle class=f-ink cx=6 cy=6 r=3 />", "counts")
        .MarkIf(m.Points.Any(p => p.State == PointState.Outlier), "<path class=\"f-paper s-bad\" d=\"M6 1l5 5-5 5-5-5z\"/>",
            "outlier, counts")
        .MarkIf(m.Points.Any(p => p.State == PointState.WarmUp), "<circle class=\"f-paper s-soft\" cx=6 cy=6 r=3 />", "warm-up")
        .MarkIf(m.Points.Any(p => p.State == PointState.Closing), "<path class=\"f-paper s-soft\" d=\"M3 3h6v6H3z\"/>", "closing repeat")
        .MarkIf(m.Points.Any(p => p.State == PointState.Invalid), "<path class=\"f-none s-bad\" d=\"M2 2l8 8M10 2l-8 8\"/>", "invalid")
        .MarkIf(IsBeyond(m, scale), "<path class=\"f-paper s-bad\" d=\"M6 1l4 9H2z\"/>", "does not count, lies beyond the edge")
        .MarkIf(m.Changes.Count > 0, "<path class=\"f-none s-bad\" stroke-dasharray=\"3 2\" d=\"M6 0v12\"/>", "level changes")
        .Mark("<path class=f-band d=\"M0 2h12v8H0z\"/><path class=s-data d=\"M0 6h12\"/>",
            $"median and {(m.IsInterval ? "interval" : "range")}")
        .MarkIf(m.ByRun.Count > 1, "<path class=\"f-none s-second\" d=\"M3 1H1v10h2M9 1h2v10H9M1 6h10\"/>", "each run: median and bounds")
        .ToString();

    /// <summary>The chart in words.</summary>
    public static string Text(ReportCard card, ReportMetric m)
    {
        string runs = m.ByRun.Count < 2 ? "" : " By run: " + string.Join("; ", m.ByRun.Select(r => $"{r.When} {r.Board} {r.Line}")) + ".";
        return $"{card.Title}, {m.Name}: {Wording.Number(m.Points.Count)} figures in order of measurement, median and bounds "
            + $"{m.Line}.{runs} The table above lists every figure.";
    }

    private static void Run(PlotModel plot, ReportPart run)
    {
        double from = run.First + 0.6, to = run.Last + 1.4, foot = Math.Min(0.25, (to - from) / 4);
        Line(plot, from, to, run.Median.Raw, run.Median.Raw, Theme.Second, LineStyle.Solid, 1);
        if (run.N > 1)
        {
            Bracket(plot, from, foot, run);
            Bracket(plot, to, -foot, run);
        }
    }

    private static void Bracket(PlotModel plot, double at, double foot, ReportPart run)
    {
        var series = new LineSeries { Color = Theme.Second, LineStyle = LineStyle.Solid, StrokeThickness = 1 };
        series.Points.AddRange([new(at + foot, run.Low.Raw), new(at, run.Low.Raw), new(at, run.High.Raw), new(at + foot, run.High.Raw)]);
        plot.Series.Add(series);
    }

    private static void Line(PlotModel plot, double x1, double x2, double y1, double y2, OxyColor color, LineStyle style, double thickness)
    {
        var series = new LineSeries { Color = color, LineStyle = style, StrokeThickness = thickness };
        series.Points.Add(new DataPoint(x1, y1));
        series.Points.Add(new DataPoint(x2, y2));
        plot.Series.Add(series);
    }

    private static void Marks(PlotModel plot, ReportMetric metric, RunsScale scale, PointState state, MarkerType type, OxyColor fill,
        OxyColor stroke, double size)
    {
        (double low, double high) = scale.Of(metric);
        var series = new ScatterSeries
        {
            MarkerType = type,
            MarkerFill = fill,
            MarkerStroke = stroke,
            MarkerStrokeThickness = 1.2,
            MarkerSize = size,
            BinSize = 0,
        };
        for (int i = 0; i < metric.Points.Count; i++)
        {
            double value = metric.Points[i].Value.Raw;
            if (metric.Points[i].State == state && value >= low && value <= high)
            {
                series.Points.Add(new ScatterPoint(i + 1, value));
            }
        }

        if (series.Points.Count > 0)
        {
            plot.Series.Add(series);
        }
    }

    /// <summary>Figures that do not count and lie outside of the scale: at its edge, pointing to where they are.</summary>
    private static void Beyond(PlotModel plot, ReportMetric metric, RunsScale scale, bool isAbove)
    {
        (double low, double high) = scale.Of(metric);
        int points = isAbove ? -1 : 1; // upwards is negative on a screen
        var series = new ScatterSeries
        {
            MarkerType = MarkerType.Custom, MarkerOutline = [new(0, points), new(1, -points), new(-1, -points)],
            MarkerFill = Theme.Paper, MarkerStroke = Theme.Bad, MarkerStrokeThickness = 1.2, MarkerSize = 3.4, BinSize = 0,
        };
        series.Points.AddRange(metric.Points.Index().Where(p => isAbove ? p.Item.Value.Raw > high : p.Item.Value.Raw < low)
            .Select(p => new ScatterPoint(p.Index + 1, isAbove ? high : low)));
        if (series.Points.Count > 0)
        {
            plot.Series.Add(series);
        }
    }

    private static bool IsBeyond(ReportMetric metric, RunsScale scale)
    {
        (double low, double high) = scale.Of(metric);
        return metric.Points.Any(p => p.Value.Raw < low || p.Value.Raw > high);
    }
}
