using Cardassay.Collector.Report.Model;
using OxyPlot;
using OxyPlot.Axes;
using OxyPlot.Series;

namespace Cardassay.Collector.Report.Charts;

/// <summary>
/// Throughput second by second: each trial a thin line, the one nearest to the median a strong one with
/// its levels and where they shift.
/// </summary>
internal static class TimelineChart
{
    /// <summary>SVG elements of the chart.</summary>
    public static string Draw(ReportTimeline timeline)
    {
        PlotModel plot = PlotSvg.NewPlot();
        int seconds = timeline.Traces.Max(t => t.Values.Count);
        double highest = timeline.Traces.SelectMany(t => t.Values).DefaultIfEmpty(0).Max();
        double top = Math.Max(highest * 1.08, 1e-9);
        plot.Axes.Add(PlotSvg.Styled(new LinearAxis
        {
            Position = AxisPosition.Bottom, Minimum = 1, Maximum = Math.Max(2, seconds), MinimumMajorStep = 1, MinorTickSize = 0,
            LabelFormatter = PlotSvg.Label,
            Title = "second of the trial",
        }));
        plot.Axes.Add(
            PlotSvg.Styled(new LinearAxis
            {
                Position = AxisPosition.Left,
                Minimum = 0,
                Maximum = top,
                MinorTickSize = 0,
                LabelFormatter = PlotSvg.Label,
            }));
        foreach (TimelineTrace trace in timeline.Traces.OrderBy(t => t.Typical))
        {
            Line(plot, trace.Values.Select((v, i) => (i + 1.0, v)), trace.Typical ? Theme.Data : Theme.Rule, trace.Typical ? 1.8 : 0.9,
                LineStyle.Solid);
        }

        for (int i = 0; i < timeline.Levels.Count && timeline.Levels.Count > 1; i++)
        {
            TimelineLevel level = timeline.Levels[i];
            double from = i == 0 ? 1 : level.FromSecond - 0.5, to = i == timeline.Levels.Count - 1 ? level.ToSecond : level.ToSecond + 0.5;
            Line(plot, [(from, level.Mean.Raw), (to, level.Mean.Raw)], Theme.Ink, 1, LineStyle.Solid);
            if (i > 0)
            {
                Line(plot, [(from, 0), (from, top)], Theme.Bad, 1, LineStyle.Dash);
            }
        }

        return PlotSvg.Render(plot, timeline.Unit);
    }

    /// <summary>What the lines mean.</summary>
    public static string LegendOf(ReportTimeline timeline)
    {
        Legend legend = new Legend().Line("<path class=s-data stroke-width=2 d=\"M0 4h24\"/>", "typical trial");
        if (timeline.Traces.Count > 1)
        {
            legend.Line("<path class=s-rule d=\"M0 4h24\"/>", "other trials");
        }

        if (timeline.Levels.Count > 1)
        {
            legend.Line("<path class=s-ink d=\"M0 4h24\"/>", "its levels")
                .Mark("<path class=\"f-none s-bad\" stroke-dasharray=\"3 2\" d=\"M6 0v12\"/>", "level shifts");
        }

        return legend.ToString();
    }

    private static void Line(PlotModel plot, IEnumerable<(double X, double Y)> points, OxyColor color, double thickness, LineStyle style)
    {
        var series = new LineSeries { Color = color, StrokeThickness = thickness, LineStyle = style };
        series.Points.AddRange(points.Select(p => new DataPoint(p.X, p.Y)));
        plot.Series.Add(series);
    }
}
