using Cardassay.Collector.Report.Model;
using OxyPlot;
using OxyPlot.Axes;
using OxyPlot.Series;

namespace Cardassay.Collector.Report.Charts;

/// <summary>Points of a few series over two axes; series differ in shape and filling.</summary>
internal static class PointsChart
{
    /// <summary>SVG elements of the chart.</summary>
    public static string Draw(PointsPicture picture)
    {
        PlotModel plot = PlotSvg.NewPlot();
        (double X, double Y)[] all = [.. picture.Series.SelectMany(s => s.Points)];
        (double left, double right) = Range([.. all.Select(p => p.X)], picture.FromZero);
        (double low, double high) = Range([.. all.Select(p => p.Y)], picture.FromZero);
        plot.Axes.Add(PlotSvg.Styled(new LinearAxis { Position = AxisPosition.Bottom, Minimum = left, Maximum = right, MinorTickSize = 0, LabelFormatter = PlotSvg.Label, Title = picture.Horizontal }));
        plot.Axes.Add(PlotSvg.Styled(new LinearAxis { Position = AxisPosition.Left, Minimum = low, Maximum = high, MinorTickSize = 0, LabelFormatter = PlotSvg.Label }));
        foreach ((int i, PointsSeries series) in picture.Series.Index())
        {
            (MarkerType type, _, OxyColor fill, OxyColor stroke) = Shape(i);
            var marks = new ScatterSeries { MarkerType = type, MarkerFill = fill, MarkerStroke = stroke, MarkerStrokeThickness = 1, MarkerSize = 2.2, BinSize = 0 };
            marks.Points.AddRange(series.Points.Select(p => new ScatterPoint(p.X, p.Y)));
            plot.Series.Add(marks);
        }

        return PlotSvg.Render(plot, picture.Vertical);
    }

    /// <summary>Which shape is which series.</summary>
    public static string LegendOf(PointsPicture picture)
    {
        var legend = new Legend();
        foreach ((int i, PointsSeries series) in picture.Series.Index())
        {
            (_, string shape, OxyColor fill, OxyColor stroke) = Shape(i);
            legend.Mark($"{shape} class=\"f-{Theme.Name(fill)} s-{Theme.Name(stroke)}\"/>", series.Name);
        }

        return legend.ToString();
    }

    private static (MarkerType Type, string Path, OxyColor Fill, OxyColor Stroke) Shape(int series) => (series % 4) switch
    {
        0 => (MarkerType.Circle, "<circle cx=6 cy=6 r=3", Theme.Data, Theme.Data),
        1 => (MarkerType.Square, "<path d=\"M3 3h6v6H3z\"", Theme.Paper, Theme.Second),
        2 => (MarkerType.Triangle, "<path d=\"M6 2l4 7.2H2z\"", Theme.Data, Theme.Data),
        _ => (MarkerType.Diamond, "<path d=\"M6 1.4L10.6 6 6 10.6 1.4 6z\"", Theme.Paper, Theme.Second),
    };

    private static (double Low, double High) Range(double[] values, bool fromZero)
    {
        double low = fromZero ? 0 : values.Min(), high = values.Max(), pad = Math.Max((high - low) * 0.06, 1e-3);
        return (fromZero ? 0 : low - pad, high + pad);
    }
}
