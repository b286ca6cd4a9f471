using Cardassay.Collector.Report.Charts;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Report.Html;

/// <summary>The chart of a table.</summary>
internal static class PictureChart
{
    /// <summary>Writes the chart with its text equivalent and legend.</summary>
    public static void Write(Page page, ReportPicture picture)
    {
        _ = picture switch
        {
            WeightsPicture p =>
                page.Chart(p.Title, p.Text, WeightsChart.Draw(p), PlotSvg.Width, RowPlot.Height(p.Rows.Count), WeightsChart.LegendText),
            BoardsPicture p =>
                page.Chart(p.Title, p.Text, BoardsChart.Draw(p), PlotSvg.Width, RowPlot.Height(p.Rows.Count), BoardsChart.LegendOf(p)),
            DriftPicture p => page.Chart(p.Title, p.Text, DriftChart.Draw(p), PlotSvg.Width, PlotSvg.Height, DriftChart.LegendOf(p)),
            SpecimensPicture p => page.Chart(p.Title, p.Text, SpecimensChart.Draw(p), PlotSvg.Width, RowPlot.Height(p.Rows.Count),
                SpecimensChart.LegendOf(p)),
            PointsPicture p => page.Chart(p.Title, p.Text, PointsChart.Draw(p), PlotSvg.Width, PlotSvg.Height, PointsChart.LegendOf(p)),
            _ => throw new InvalidOperationException($"No chart draws {picture.GetType().Name}."),
        };
    }
}
