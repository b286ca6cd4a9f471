using Cardassay.Collector.Report.Model;
using OxyPlot;
using OxyPlot.Annotations;
using OxyPlot.Axes;
using OxyPlot.Series;

namespace Cardassay.Collector.Report.Charts;

/// <summary>
/// Price across, performance under the profile upwards, intervals as bars; cards on the front are filled diamonds, and a dotted
/// step is what money buys at most.
/// </summary>
internal static class PriceChart
{
    /// <summary>Height in user units; names need more room than the small charts have.</summary>
    public const double Height = 260;

    private const int NamedUpTo = 30;
    private const int NamesInAHeap = 3;

    /// <summary>SVG elements of the chart.</summary>
    public static string Draw(PriceSection price)
    {
        PlotModel plot = PlotSvg.NewPlot();
        double dearest = price.Points.Max(p => p.Price.Raw);
        double across = dearest * 1.12, upwards = Math.Max(1e-9, price.Points.Max(p => p.Composite.High.Raw) * 1.12);
        plot.Axes.Add(PlotSvg.Styled(new LinearAxis
        {
            Position = AxisPosition.Bottom, Minimum = 0, Maximum = across, MinorTickSize = 0, LabelFormatter = PlotSvg.Label,
            Title = "price, " + price.Currency,
        }));
        plot.Axes.Add(PlotSvg.Styled(new LinearAxis
        {
            Position = AxisPosition.Left, Minimum = 0, Maximum = upwards, MinorTickSize = 0, LabelFormatter = PlotSvg.Label,
        }));
        foreach (PricePoint point in price.Points)
        {
            var bar = new LineSeries { Color = Theme.Soft, StrokeThickness = 1, LineStyle = LineStyle.Solid };
            bar.Points.Add(new DataPoint(point.Price.Raw, point.Composite.Low.Raw));
            bar.Points.Add(new DataPoint(point.Price.Raw, point.Composite.High.Raw));
            plot.Series.Add(bar);
        }

        (double Price, double Level)[] front = Front(price.Points.Where(p => p.OnFront), across);
        var line = new LineSeries { Color = Theme.Data, StrokeThickness = 1, LineStyle = LineStyle.Dot };
        line.Points.AddRange(front.Select(f => new DataPoint(f.Price, f.Level)));
        plot.Series.Add(line);
        Marks(plot, price.Points.Where(p => !p.OnFront), MarkerType.Circle, Theme.Paper, Theme.Soft, 3);
        Marks(plot, price.Points.Where(p => p.OnFront), MarkerType.Diamond, Theme.Data, Theme.Data, 4);

        // Where the axes will put a point, to within a few units.
        ScreenPoint Place(double at, double level) =>
            new(34 + (PlotSvg.Width - 42) * at / across, 18 + (Height - 50) * (1 - level / upwards));
        Names(plot, price, point => Place(point.Price.Raw, point.Composite.Value.Raw), [.. front.Select(f => Place(f.Price, f.Level))]);
        return PlotSvg.Render(plot, "performance, 1 = reference", Height);
    }

    // What money buys at most: a step at every card that is better than all cheaper ones.
    private static (double Price, double Level)[] Front(IEnumerable<PricePoint> front, double across)
    {
        List<(double Price, double Level)> line = [];
        foreach (PricePoint point in front.OrderBy(p => p.Price.Raw).ThenByDescending(p => p.Composite.Value.Raw))
        {
            double level = line.Count > 0 ? line[^1].Level : 0;
            if (point.Composite.Value.Raw > level)
            {
                if (line.Count > 0)
                {
                    line.Add((point.Price.Raw, level));
                }

                line.Add((point.Price.Raw, point.Composite.Value.Raw));
            }
        }

        return line.Count == 0 ? [] : [.. line, (across, line[^1].Level)];
    }

    // Marks that lie on each other share one name; with many cards only those on the front are named.
    private static void Names(PlotModel plot, PriceSection price, Func<PricePoint, ScreenPoint> place, ScreenPoint[] front)
    {
        List<(ScreenPoint At, List<PricePoint> Points)> heaps = [];
        foreach (PricePoint point in price.Points.Where(p => p.OnFront || price.Points.Count <= NamedUpTo))
        {
            ScreenPoint at = place(point);
            int heap = heaps.FindIndex(
                h => Math.Abs(h.At.X - at.X) < 7 && Math.Abs(h.At.Y - at.Y) < 7 && h.Points[0].OnFront == point.OnFront);
            if (heap >= 0)
            {
                heaps[heap].Points.Add(point);
            }
            else
            {
                heaps.Add((at, [point]));
            }
        }

        var places = new LabelPlaces(price.Points.Select(place), front);

        // Those at the right edge first: they have the fewest places to choose from.
        foreach ((ScreenPoint at, List<PricePoint> points) in heaps.OrderByDescending(h => h.Points[0].OnFront)
            .ThenByDescending(h => h.At.X))
        {
            string name = string.Join(", ", points.Take(NamesInAHeap).Select(p => p.Card))
                + (points.Count > NamesInAHeap ? $" +{Wording.Number(points.Count - NamesInAHeap)}" : "");
            (ScreenVector offset, HorizontalAlignment alignment) = places.Place(at, name, PlotSvg.Width);
            plot.Annotations.Add(new TextAnnotation
            {
                Text = name, TextPosition = new DataPoint(points[0].Price.Raw, points[0].Composite.Value.Raw), StrokeThickness = 0,
                TextColor = points[0].OnFront ? Theme.Ink : Theme.Soft,
                TextHorizontalAlignment = alignment, TextVerticalAlignment = VerticalAlignment.Middle, Offset = offset,
            });
        }
    }

    private static void Marks(PlotModel plot, IEnumerable<PricePoint> points, MarkerType type, OxyColor fill, OxyColor stroke, double size)
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
        series.Points.AddRange(points.Select(p => new ScatterPoint(p.Price.Raw, p.Composite.Value.Raw)));
        if (series.Points.Count > 0)
        {
            plot.Series.Add(series);
        }
    }
}
