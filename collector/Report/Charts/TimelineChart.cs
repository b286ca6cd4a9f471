using Cardassay.Collector.Report.Model;
using OxyPlot;
using OxyPlot.Axes;
using OxyPlot.Series;

namespace Cardassay.Collector.Report.Charts;

/// <summary>Throughput second by second: each trial a thin line, the one nearest to the median a strong one.</summary>
internal static class TimelineChart
{
    /// <summary>SVG elements of the chart.</summary>
    public static string Draw(ReportTimeline timeline)
    {
        PlotModel plot = PlotSvg.NewPlot();
        int seconds = timeline.Traces.Max(t => t.Values.Count);
        double highest = timeline.Traces.SelectMany(t => t.Values).DefaultIfEmpty(0).Max();
        plot.Axes.Add(PlotSvg.Styled(new LinearAxis
        {
            Position = AxisPosition.Bottom, Minimum = 1, Maximum = Math.Max(2, seconds), MinimumMajorStep = 1, MinorTickSize = 0, LabelFormatter = PlotSvg.Label,
            Title = "second of the trial",
        }));
        plot.Axes.Add(PlotSvg.Styled(new LinearAxis
        {
            Position = AxisPosition.Left, Minimum = 0, Maximum = Math.Max(highest * 1.08, 1e-9), MinorTickSize = 0, LabelFormatter = PlotSvg.Label,
        }));
        foreach (TimelineTrace trace in timeline.Traces.OrderBy(t => t.Typical))
        {
            var series = new LineSeries { Color = trace.Typical ? Theme.Data : Theme.Rule, StrokeThickness = trace.Typical ? 1.8 : 0.9, LineStyle = LineStyle.Solid };
            for (int i = 0; i < trace.Values.Count; i++)
            {
                series.Points.Add(new DataPoint(i + 1, trace.Values[i]));
            }

            plot.Series.Add(series);
        }

        return PlotSvg.Render(plot, timeline.Unit);
    }
}
