using Cardassay.Collector.Report.Model;
using OxyPlot;
using OxyPlot.Axes;

namespace Cardassay.Collector.Report.Charts;

/// <summary>Per card a band over the ranks it holds under drawn weights, and a line over those its figures allow.</summary>
internal static class WeightsChart
{
    /// <summary>What the marks mean.</summary>
    public static readonly string LegendText = new Legend()
        .Mark("<path class=f-band d=\"M0 2h12v8H0z\"/>", "rank of the median under drawn weights")
        .Mark("<path class=s-ink d=\"M0 6h12\"/><path class=\"f-ink\" d=\"M0 3h1.5v6H0zM10.5 3h1.5v6h-1.5z\"/>", "ranks the figures allow")
        .ToString();

    /// <summary>SVG elements of the chart.</summary>
    public static string Draw(WeightsPicture picture)
    {
        double last = picture.Rows.Max(r => Math.Max(r.Worst, r.DrawnWorst));
        PlotModel plot = RowPlot.New(
            [.. picture.Rows.Select(r => r.Card)],
            new LinearAxis
            {
                Position = AxisPosition.Bottom,
                Minimum = 0.5,
                Maximum = last + 0.5,
                MinimumMajorStep = 1,
                MinorTickSize = 0,
                LabelFormatter = PlotSvg.Label,
                Title = "rank",
            });
        for (int i = 0; i < picture.Rows.Count; i++)
        {
            WeightsRow row = picture.Rows[i];
            if (row.DrawnBest > 0)
            {
                RowPlot.Bar(plot, i, row.DrawnBest - 0.3, row.DrawnWorst + 0.3, Theme.Band, 9);
            }

            RowPlot.Bar(plot, i, row.Best - 0.15, row.Worst + 0.15, Theme.Ink, 1);
        }

        RowPlot.Marks(plot, picture.Rows.SelectMany((r, i) => new[] { (r.Best - 0.15, i), (r.Worst + 0.15, i) }), MarkerType.Square,
            Theme.Ink, Theme.Ink, 1.4);
        return PlotSvg.Render(plot, "card", RowPlot.Height(picture.Rows.Count));
    }
}
