using Cardassay.Collector.Report.Model;
using OxyPlot;
using OxyPlot.Axes;

namespace Cardassay.Collector.Report.Charts;

/// <summary>Specimens of a product below each other, each with its median and bounds, on a scale from 0.</summary>
internal static class SpecimensChart
{
    /// <summary>SVG elements of the chart.</summary>
    public static string Draw(SpecimensPicture picture)
    {
        double high = picture.Rows.Max(r => Math.Max(r.Metric.High.Raw, r.Metric.Median.Raw));
        PlotModel plot = RowPlot.New(
            [.. picture.Rows.Select(r => r.Name)],
            new LinearAxis
            {
                Position = AxisPosition.Bottom,
                Minimum = 0,
                Maximum = high > 0 ? high * 1.05 : 1,
                MinorTickSize = 0,
                LabelFormatter = PlotSvg.Label,
                Title = picture.Unit,
            });
        foreach ((int row, SpecimensRow specimen) in picture.Rows.Index())
        {
            ReportMetric m = specimen.Metric;
            RowPlot.Bar(plot, row, m.Low.Raw, m.High.Raw, m.IsInterval ? Theme.Band : Theme.Soft, m.IsInterval ? 9 : 1,
                m.IsInterval ? LineStyle.Solid : LineStyle.Dash);
        }

        RowPlot.Marks(plot, picture.Rows.Select((r, i) => (r.Metric.Median.Raw, i)), MarkerType.Circle, Theme.Data, Theme.Data, 2.4);
        return PlotSvg.Render(plot, "made · card", RowPlot.Height(picture.Rows.Count));
    }

    /// <summary>What the marks mean.</summary>
    public static string LegendOf(SpecimensPicture picture) => new Legend()
        .MarkIf(picture.Rows.Any(r => r.Metric.IsInterval),
            "<path class=f-band d=\"M0 1h12v10H0z\"/><circle class=f-data cx=6 cy=6 r=2.4 />", "median and interval")
        .MarkIf(picture.Rows.Any(r => !r.Metric.IsInterval), "<path class=\"f-none s-soft\" stroke-dasharray=\"3 2\" d=\"M0 6h12\"/>"
            + "<circle class=f-data cx=6 cy=6 r=2.4 />", "median and range")
        .ToString();
}
