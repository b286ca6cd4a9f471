using OxyPlot;
using OxyPlot.Axes;
using OxyPlot.Series;

namespace Cardassay.Collector.Report.Charts;

/// <summary>A chart with one named row per card, the first on top.</summary>
internal static class RowPlot
{
    private const double RowHeight = 15;
    private const double Frame = 62;
    private const int LongestLabel = 22;

    /// <summary>Height in user units of a chart with so many rows.</summary>
    public static double Height(int rows) => Frame + RowHeight * rows;

    /// <summary>A plot with the rows upwards; add the horizontal axis.</summary>
    public static PlotModel New(IReadOnlyList<string> labels, Axis horizontal)
    {
        PlotModel plot = PlotSvg.NewPlot();
        plot.Axes.Add(PlotSvg.Styled(horizontal));
        horizontal.MajorGridlineStyle = LineStyle.Solid;
        Axis rows = PlotSvg.Styled(new LinearAxis
        {
            Position = AxisPosition.Left, StartPosition = 1, EndPosition = 0, Minimum = -0.6, Maximum = labels.Count - 0.4, MajorStep = 1,
            MinorTickSize = 0, MajorTickSize = 0,
            LabelFormatter = at => at >= 0 && at < labels.Count && at == Math.Round(at) ? Short(labels[(int)at]) : "",
        });
        rows.MajorTickSize = 0;
        rows.MinorTickSize = 0;
        rows.MajorGridlineStyle = LineStyle.Dot;
        plot.Axes.Add(rows);
        return plot;
    }

    /// <summary>A stretch of one row.</summary>
    public static void Bar(
        PlotModel plot, int row, double from, double to, OxyColor color, double thickness, LineStyle style = LineStyle.Solid)
    {
        var series = new LineSeries { Color = color, StrokeThickness = thickness, LineStyle = style };
        series.Points.Add(new DataPoint(from, row));
        series.Points.Add(new DataPoint(to, row));
        plot.Series.Add(series);
    }

    /// <summary>Marks of one kind in any rows.</summary>
    public static void Marks(
        PlotModel plot, IEnumerable<(double At, int Row)> places, MarkerType type, OxyColor fill, OxyColor stroke, double size)
    {
        var series = new ScatterSeries
        {
            MarkerType = type,
            MarkerFill = fill,
            MarkerStroke = stroke,
            MarkerStrokeThickness = 1.2,
            MarkerSize = size,
            BinSize = 0,
        };
        series.Points.AddRange(places.Select(p => new ScatterPoint(p.At, p.Row)));
        if (series.Points.Count > 0)
        {
            plot.Series.Add(series);
        }
    }

    // The whole name stands in the table beside the chart.
    private static string Short(string label) => label.Length <= LongestLabel ? label : label[..(LongestLabel - 1)] + "…";
}
