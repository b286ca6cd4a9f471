using Cardassay.Collector.Report.Model;
using OxyPlot;
using OxyPlot.Annotations;
using OxyPlot.Axes;

namespace Cardassay.Collector.Report.Charts;

/// <summary>Per card one mark for every board that measured it; boards differ in shape and filling.</summary>
internal static class BoardsChart
{
    /// <summary>SVG elements of the chart.</summary>
    public static string Draw(BoardsPicture picture)
    {
        double[] all = [.. picture.Rows.SelectMany(r => r.Percent).OfType<double>()];
        double reach = Math.Max(2, all.Max(Math.Abs) * 1.1);
        PlotModel plot = RowPlot.New(
            [.. picture.Rows.Select(r => r.Card)],
            new LinearAxis
            {
                Position = AxisPosition.Bottom,
                Minimum = -reach,
                Maximum = reach,
                MinorTickSize = 0,
                LabelFormatter = Signed,
                Title = "median against the middle of the card's boards, %",
            });
        plot.Annotations.Add(new LineAnnotation
        {
            Type = LineAnnotationType.Vertical,
            X = 0,
            Color = Theme.Soft,
            StrokeThickness = 1,
            LineStyle = LineStyle.Solid,
            Layer = AnnotationLayer.BelowSeries,
        });
        for (int i = 0; i < picture.Rows.Count; i++)
        {
            double[] known = [.. picture.Rows[i].Percent.OfType<double>()];
            if (known.Length > 1)
            {
                RowPlot.Bar(plot, i, known.Min(), known.Max(), Theme.Rule, 1.4);
            }
        }

        for (int b = 0; b < picture.Boards.Count; b++)
        {
            SeriesMark mark = SeriesMark.Of(b);
            int board = b;
            RowPlot.Marks(
                plot, picture.Rows.Select((r, i) => (At: r.Percent[board], Row: i)).Where(p => p.At is not null)
                    .Select(p => (p.At!.Value, p.Row)),
                mark.Type, mark.Fill, mark.Stroke, 3.4);
        }

        return PlotSvg.Render(plot, "card", RowPlot.Height(picture.Rows.Count));
    }

    /// <summary>Which shape is which board.</summary>
    public static string LegendOf(BoardsPicture picture)
    {
        var legend = new Legend();
        for (int b = 0; b < picture.Boards.Count; b++)
        {
            legend.Mark(SeriesMark.Of(b).Sample, picture.Boards[b]);
        }

        return legend.ToString();
    }

    private static string Signed(double value) => value > 0 ? "+" + PlotSvg.Label(value) : PlotSvg.Label(value).Replace('-', '−');
}
