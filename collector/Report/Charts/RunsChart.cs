using Cardassay.Collector.Report.Model;
using OxyPlot;
using OxyPlot.Annotations;
using OxyPlot.Axes;
using OxyPlot.Series;

namespace Cardassay.Collector.Report.Charts;

/// <summary>Every figure of a metric in the order measured, over its median and interval. States differ in shape, not only in colour.</summary>
internal static class RunsChart
{
    /// <summary>SVG elements of the chart.</summary>
    public static string Draw(ReportMetric metric)
    {
        PlotModel plot = PlotSvg.NewPlot();
        double last = metric.Points.Count + 0.6;
        plot.Axes.Add(PlotSvg.Styled(new LinearAxis
        {
            Position = AxisPosition.Bottom, Minimum = 0.4, Maximum = last, MinimumMajorStep = 1, MinorTickSize = 0, LabelFormatter = PlotSvg.Label,
            Title = "in order of measurement",
        }));
        double low = Math.Min(metric.Low.Raw, metric.Points.Min(p => p.Value.Raw));
        double high = Math.Max(metric.High.Raw, metric.Points.Max(p => p.Value.Raw));
        double pad = Math.Max((high - low) * 0.12, high * 0.02);
        plot.Axes.Add(PlotSvg.Styled(new LinearAxis
        {
            Position = AxisPosition.Left, Minimum = Math.Max(0, low - pad), Maximum = high + Math.Max(pad, 1e-9), LabelFormatter = PlotSvg.Label, MinorTickSize = 0,
        }));
        plot.Annotations.Add(new RectangleAnnotation
        {
            MinimumX = 0.4, MaximumX = last, MinimumY = metric.Low.Raw, MaximumY = metric.High.Raw, Fill = Theme.Band, StrokeThickness = 0, Layer = AnnotationLayer.BelowSeries,
        });
        Line(plot, 0.4, last, metric.Median.Raw, metric.Median.Raw, Theme.Data, LineStyle.Solid, 1.2);
        foreach (int change in metric.Changes)
        {
            Line(plot, change + 0.5, change + 0.5, Math.Max(0, low - pad), high + pad, Theme.Bad, LineStyle.Dash, 1);
        }

        Marks(plot, metric, PointState.Counted, MarkerType.Circle, Theme.Ink, Theme.Ink, 2.6);
        Marks(plot, metric, PointState.Outlier, MarkerType.Diamond, Theme.Paper, Theme.Bad, 4.2);
        Marks(plot, metric, PointState.WarmUp, MarkerType.Circle, Theme.Paper, Theme.Soft, 2.8);
        Marks(plot, metric, PointState.Closing, MarkerType.Square, Theme.Paper, Theme.Soft, 2.8);
        Marks(plot, metric, PointState.Invalid, MarkerType.Cross, OxyColors.Undefined, Theme.Bad, 3.4);
        return PlotSvg.Render(plot, metric.Unit);
    }

    private static void Line(PlotModel plot, double x1, double x2, double y1, double y2, OxyColor color, LineStyle style, double thickness)
    {
        var series = new LineSeries { Color = color, LineStyle = style, StrokeThickness = thickness };
        series.Points.Add(new DataPoint(x1, y1));
        series.Points.Add(new DataPoint(x2, y2));
        plot.Series.Add(series);
    }

    private static void Marks(PlotModel plot, ReportMetric metric, PointState state, MarkerType type, OxyColor fill, OxyColor stroke, double size)
    {
        var series = new ScatterSeries { MarkerType = type, MarkerFill = fill, MarkerStroke = stroke, MarkerStrokeThickness = 1.2, MarkerSize = size, BinSize = 0 };
        for (int i = 0; i < metric.Points.Count; i++)
        {
            if (metric.Points[i].State == state)
            {
                series.Points.Add(new ScatterPoint(i + 1, metric.Points[i].Value.Raw));
            }
        }

        if (series.Points.Count > 0)
        {
            plot.Series.Add(series);
        }
    }
}
