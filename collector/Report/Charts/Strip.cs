using System.Globalization;
using System.Text;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Report.Charts;

/// <summary>
/// A metric's figures on one line, all cards on one logarithmic scale, so that a column of strips compares at a glance.
/// Written by hand: a plotting library brings axes, and ten times the bytes, into each of a thousand table cells.
/// </summary>
internal sealed class Strip
{
    private const double Width = 150;
    private const double Height = 12;
    private const double Margin = 5;

    private readonly double _lowLog;
    private readonly double _perLog;

    private Strip(double low, double high)
    {
        _lowLog = Math.Log10(low);
        _perLog = (Width - 2 * Margin) / Math.Max(0.02, Math.Log10(high) - _lowLog);
    }

    /// <summary>The scale that holds every figure of the metrics; null when there is none above zero.</summary>
    public static Strip? For(IEnumerable<ReportMetric> metrics)
    {
        double low = double.MaxValue, high = 0;
        foreach (ReportMetric metric in metrics)
        {
            foreach (double value in metric.Points.Where(p => p.State != PointState.Invalid).Select(p => p.Value.Raw).Append(metric.Low.Raw)
                .Append(metric.High.Raw))
            {
                low = value > 0 ? Math.Min(low, value) : low;
                high = Math.Max(high, value);
            }
        }

        return high > 0 ? new Strip(low * 0.97, high * 1.03) : null;
    }

    /// <summary>SVG of one metric. Decoration: the figures stand beside it as text.</summary>
    public string Draw(ReportMetric metric)
    {
        var svg = new StringBuilder("<svg class=strip viewBox=\"0 0 150 12\" aria-hidden=true>");
        double low = X(metric.Low.Raw), high = X(metric.High.Raw);
        svg.Append(CultureInfo.InvariantCulture,
            $"<path class={(metric.IsInterval ? "iv" : "rg")} d=\"M{N(low)} 6H{N(Math.Max(high, low + 0.5))}\"/>");
        Points(svg, metric.HandKept ? "hk" : "pt", metric.Points.Where(p => p.State is PointState.Counted or PointState.Outlier), "h0");
        Points(svg, "wu", metric.Points.Where(p => p.State is PointState.WarmUp or PointState.Closing), "h0");
        svg.Append(CultureInfo.InvariantCulture, $"<path class=md d=\"M{N(X(metric.Median.Raw))} 0v12\"/></svg>");
        return svg.ToString();
    }

    /// <summary>SVG of the scale with round numbers, for the column heading.</summary>
    public string Scale()
    {
        var svg = new StringBuilder("<svg class=\"strip scale\" viewBox=\"0 0 150 16\" aria-hidden=true><path class=ax d=\"M5 14H145");
        var labels = new StringBuilder();
        double lastEnd = -10;
        bool wide = (Width - 2 * Margin) / _perLog > 0.9;
        for (int power = -3; power <= 7; power++)
        {
            foreach (double step in wide ? (ReadOnlySpan<double>)[1, 2, 5] : [1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8])
            {
                double value = step * Math.Pow(10, power);
                double x = X(value, clamp: false);
                if (x < Margin - 0.1 || x > Width - Margin + 0.1)
                {
                    continue;
                }

                svg.Append(CultureInfo.InvariantCulture, $"M{N(x)} 14v-3");
                string label = Math.Round(value, 3).ToString("0.###", CultureInfo.InvariantCulture);
                double half = label.Length * 2.7;
                double at = Math.Clamp(x, half, Width - half);
                if (at - half > lastEnd + 3)
                {
                    labels.Append(CultureInfo.InvariantCulture, $"<text x=\"{N(at)}\" y=8>{label}</text>");
                    lastEnd = at + half;
                }
            }
        }

        return svg.Append("\"/>").Append(labels).Append("</svg>").ToString();
    }

    private static string N(double value) => ThemedSvgContext.N(value);

    private double X(double value, bool clamp = true)
    {
        double x = Margin + (Math.Log10(Math.Max(value, 1e-9)) - _lowLog) * _perLog;
        return clamp ? Math.Clamp(x, 0, Width) : x;
    }

    private void Points(StringBuilder svg, string style, IEnumerable<ReportPoint> points, string mark)
    {
        // Equal positions are drawn once: they would hide each other anyway.
        string[] places = [.. points.Select(p => N(Math.Round(X(p.Value.Raw) * 2) / 2)).Distinct()];
        if (places.Length > 0)
        {
            svg.Append("<path class=").Append(style).Append(" d=\"");
            foreach (string place in places)
            {
                svg.Append('M').Append(place).Append(" 6").Append(mark);
            }

            svg.Append("\"/>");
        }
    }
}
