using System.Globalization;
using Cardassay.Collector.Report.Model;
using OxyPlot;
using OxyPlot.Axes;
using OxyPlot.Series;

namespace Cardassay.Collector.Report.Charts;

/// <summary>
/// Share of operations slower than a time, both axes logarithmic: the rare long stalls, which a mean or a histogram hides,
/// are the right-hand end of the line.
/// </summary>
internal static class LatencyChart
{
    /// <summary>Dash patterns by position, so that lines are told apart without colour.</summary>
    public static readonly IReadOnlyList<LineStyle> Styles = [LineStyle.Solid, LineStyle.Dash, LineStyle.Dot, LineStyle.DashDot,
        LineStyle.LongDash];

    /// <summary>SVG elements of the chart.</summary>
    public static string Draw(IReadOnlyList<ReportLatency> latencies)
    {
        PlotModel plot = PlotSvg.NewPlot();
        LatencyShare[] all = [.. latencies.SelectMany(l => l.Shares).Where(s => s.Slower > 0 && s.Ms > 0)];
        double least = all.Select(s => s.Slower).DefaultIfEmpty(0.01).Min();
        double fastest = all.Select(s => s.Ms).DefaultIfEmpty(0.1).Min();
        double slowest = all.Select(s => s.Ms).DefaultIfEmpty(10).Max();
        plot.Axes.Add(PlotSvg.Styled(new LogarithmicAxis
        {
            Position = AxisPosition.Bottom, Minimum = fastest * 0.8, Maximum = slowest * 1.25, LabelFormatter = Power(PlotSvg.Label),
            Title = "time of one operation, ms (log)",
        }));
        plot.Axes.Add(PlotSvg.Styled(new LogarithmicAxis
        {
            Position = AxisPosition.Left, Minimum = least * 0.8, Maximum = 1.2, MinorTickSize = 0,
            LabelFormatter = Power(v => (v * 100).ToString("0.######", CultureInfo.InvariantCulture) + " %"),
        }));
        for (int i = 0; i < latencies.Count; i++)
        {
            var series = new LineSeries { Color = Color(i), LineStyle = Styles[i % Styles.Count], StrokeThickness = 1.6 };
            series.Points.AddRange(latencies[i].Shares.Where(s => s.Slower > 0 && s.Ms > 0).Select(s => new DataPoint(s.Ms, s.Slower)));
            plot.Series.Add(series);
        }

        return PlotSvg.Render(plot, "share slower (log)");
    }

    /// <summary>Colour by position.</summary>
    public static OxyColor Color(int position) => (position % 3) switch { 0 => Theme.Data, 1 => Theme.Second, _ => Theme.Ink };

    /// <summary>A line of the given position for a legend, 24 by 8 units.</summary>
    public static string Sample(int position)
    {
        string dash = Styles[position % Styles.Count].GetDashArray() is { } d
            ? $" stroke-dasharray=\"{string.Join(' ', d.Select(x => ThemedSvgContext.N(x * 1.6)))}\""
            : "";
        return $"<path class=\"f-none s-{Theme.Name(Color(position))}\" stroke-width=1.6{dash} d=\"M0 4h24\"/>";
    }

    /// <summary>Which line is which kind of trial.</summary>
    public static string LegendOf(IReadOnlyList<ReportLatency> latencies)
    {
        var legend = new Legend();
        for (int i = 0; i < latencies.Count; i++)
        {
            legend.Line(Sample(i), latencies[i].Name);
        }

        return legend.ToString();
    }

    // Where the range is short the axis also labels steps between powers of ten; those labels would collide.
    private static Func<double, string> Power(Func<double, string> label) => value =>
        Math.Abs(Math.Log10(value) - Math.Round(Math.Log10(value))) < 1e-6 ? label(value) : "";
}
