using Cardassay.Collector.Report.Model;
using OxyPlot;
using OxyPlot.Annotations;
using OxyPlot.Axes;
using OxyPlot.Series;

namespace Cardassay.Collector.Report.Charts;

/// <summary>Price across, performance under the profile upwards, intervals as bars; cards on the front are filled diamonds and named.</summary>
internal static class PriceChart
{
    /// <summary>Height in user units; names need more room than the small charts have.</summary>
    public const double Height = 260;

    /// <summary>SVG elements of the chart.</summary>
    public static string Draw(PriceSection price)
    {
        PlotModel plot = PlotSvg.NewPlot();
        double dearest = price.Points.Max(p => p.Price.Raw);
        double fastest = price.Points.Max(p => p.Composite.High.Raw);
        plot.Axes.Add(PlotSvg.Styled(new LinearAxis
        {
            Position = AxisPosition.Bottom, Minimum = 0, Maximum = dearest * 1.12, MinorTickSize = 0, LabelFormatter = PlotSvg.Label, Title = "price, " + price.Currency,
        }));
        plot.Axes.Add(PlotSvg.Styled(new LinearAxis
        {
            Position = AxisPosition.Left, Minimum = 0, Maximum = Math.Max(1e-9, fastest * 1.12), MinorTickSize = 0, LabelFormatter = PlotSvg.Label,
        }));
        foreach (PricePoint point in price.Points)
        {
            var bar = new LineSeries { Color = Theme.Soft, StrokeThickness = 1, LineStyle = LineStyle.Solid };
            bar.Points.Add(new DataPoint(point.Price.Raw, point.Composite.Low.Raw));
            bar.Points.Add(new DataPoint(point.Price.Raw, point.Composite.High.Raw));
            plot.Series.Add(bar);
        }

        Marks(plot, price.Points.Where(p => !p.OnFront), MarkerType.Circle, Theme.Paper, Theme.Soft, 3);
        Marks(plot, price.Points.Where(p => p.OnFront), MarkerType.Diamond, Theme.Data, Theme.Data, 4);
        foreach (PricePoint point in price.Points.Where(p => p.OnFront))
        {
            bool right = point.Price.Raw > dearest * 0.8;
            plot.Annotations.Add(new TextAnnotation
            {
                Text = point.Card, TextPosition = new DataPoint(point.Price.Raw, point.Composite.Value.Raw), StrokeThickness = 0, TextColor = Theme.Ink,
                TextHorizontalAlignment = right ? HorizontalAlignment.Right : HorizontalAlignment.Left, TextVerticalAlignment = VerticalAlignment.Middle,
                Offset = new ScreenVector(right ? -8 : 8, 0),
            });
        }

        return PlotSvg.Render(plot, "performance, 1 = reference", Height);
    }

    private static void Marks(PlotModel plot, IEnumerable<PricePoint> points, MarkerType type, OxyColor fill, OxyColor stroke, double size)
    {
        var series = new ScatterSeries { MarkerType = type, MarkerFill = fill, MarkerStroke = stroke, MarkerStrokeThickness = 1.2, MarkerSize = size, BinSize = 0 };
        series.Points.AddRange(points.Select(p => new ScatterPoint(p.Price.Raw, p.Composite.Value.Raw)));
        if (series.Points.Count > 0)
        {
            plot.Series.Add(series);
        }
    }
}
