using Cardassay.Collector.Report.Model;
using OxyPlot;
using OxyPlot.Annotations;
using OxyPlot.Axes;
using OxyPlot.Series;

namespace Cardassay.Collector.Report.Charts;

/// <summary>Medians of nights as lines; lines differ in dash and mark.</summary>
internal static class DriftChart
{
    private static readonly MarkerType[] Marks = [MarkerType.Circle, MarkerType.Square, MarkerType.Triangle, MarkerType.Diamond,
        MarkerType.Circle, MarkerType.Square];

    private static readonly string[] Shapes =
    [
        "<circle cx=12 cy=4 r=2.6", "<path d=\"M9.4 1.4h5.2v5.2H9.4z\"", "<path d=\"M12 1l3.2 5.6H8.8z\"",
        "<path d=\"M12 .6L15.4 4 12 7.4 8.6 4z\"", "<circle cx=12 cy=4 r=2.6", "<path d=\"M9.4 1.4h5.2v5.2H9.4z\"",
    ];

    /// <summary>SVG elements of the chart.</summary>
    public static string Draw(DriftPicture picture)
    {
        PlotModel plot = PlotSvg.NewPlot();
        DriftPoint[] all = [.. picture.Lines.SelectMany(l => l.Points)];
        int first = all.Min(p => p.Night.DayNumber), last = all.Max(p => p.Night.DayNumber);
        double low = Math.Min(97, all.Min(p => p.Percent)), high = Math.Max(103, all.Max(p => p.Percent)), pad = (high - low) * 0.08;
        plot.Axes.Add(PlotSvg.Styled(new LinearAxis
        {
            Position = AxisPosition.Bottom, Minimum = first - 0.3, Maximum = last + 0.3, MinimumMajorStep = 1, MinorTickSize = 0,
            Title = "night",
            LabelFormatter = day => day == Math.Round(day)
                ? DateOnly.FromDayNumber((int)day).ToString("d MMM", System.Globalization.CultureInfo.InvariantCulture)
                : "",
        }));
        plot.Axes.Add(
            PlotSvg.Styled(new LinearAxis
            {
                Position = AxisPosition.Left,
                Minimum = Math.Max(0, low - pad),
                Maximum = high + pad,
                MinorTickSize = 0,
                LabelFormatter = PlotSvg.Label,
            }));
        plot.Annotations.Add(new LineAnnotation
        {
            Type = LineAnnotationType.Horizontal,
            Y = 100,
            Color = Theme.Soft,
            StrokeThickness = 1,
            LineStyle = LineStyle.Solid,
            Layer = AnnotationLayer.BelowSeries,
        });
        for (int i = 0; i < picture.Lines.Count; i++)
        {
            OxyColor color = LatencyChart.Color(i);
            var line = new LineSeries
            {
                Color = color,
                LineStyle = LatencyChart.Styles[i % LatencyChart.Styles.Count],
                StrokeThickness = 1.4,
            };
            line.Points.AddRange(picture.Lines[i].Points.Select(p => new DataPoint(p.Night.DayNumber, p.Percent)));
            var marks = new ScatterSeries
            {
                MarkerType = Marks[i % Marks.Length],
                MarkerFill = i < 3 ? color : Theme.Paper,
                MarkerStroke = color,
                MarkerStrokeThickness = 1.2,
                MarkerSize = 2.6,
                BinSize = 0,
            };
            marks.Points.AddRange(picture.Lines[i].Points.Select(p => new ScatterPoint(p.Night.DayNumber, p.Percent)));
            plot.Series.Add(line);
            plot.Series.Add(marks);
        }

        return PlotSvg.Render(plot, picture.Unit);
    }

    /// <summary>Which line is which series.</summary>
    public static string LegendOf(DriftPicture picture)
    {
        var legend = new Legend();
        for (int i = 0; i < picture.Lines.Count; i++)
        {
            string colour = Theme.Name(LatencyChart.Color(i));
            legend.Line($"{LatencyChart.Sample(i)}{Shapes[i % Shapes.Length]} class=\"f-{(i < 3 ? colour : "paper")} s-{colour}\"/>",
                picture.Lines[i].Name);
        }

        return legend.ToString();
    }
}
