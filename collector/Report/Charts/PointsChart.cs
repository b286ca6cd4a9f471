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
        plot.Axes.Add(
            PlotSvg.Styled(new LinearAxis
            {
                Position = AxisPosition.Bottom,
                Minimum = left,
                Maximum = right,
                MinorTickSize = 0,
                LabelFormatter = PlotSvg.Label,
                Title = picture.Horizontal,
            }));
        plot.Axes.Add(
            PlotSvg.Styled(new LinearAxis
            {
                Position = AxisPosition.Left,
                Minimum = low,
                Maximum = high,
                MinorTickSize = 0,
                LabelFormatter = PlotSvg.Label,
            }));
        foreach ((int i, PointsSeries series) in picture.Series.Index())
        {
            SeriesMark mark = SeriesMark.Of(i);
            var marks = new ScatterSeries
            {
                MarkerType = mark.Type,
                MarkerFill = mark.Fill,
                MarkerStroke = mark.Stroke,
                MarkerStrokeThickness = 1,
                MarkerSize = 2.2,
                BinSize = 0,
            };
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
            legend.Mark(SeriesMark.Of(i).Sample, series.Name);
        }

        return legend.ToString();
    }

    private static (double Low, double High) Range(double[] values, bool fromZero)
    {
        double low = fromZero ? 0 : values.Min(), high = values.Max(), pad = Math.Max((high - low) * 0.06, 1e-3);
        return (fromZero ? 0 : low - pad, high + pad);
    }
}
