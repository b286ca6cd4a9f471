using System.Globalization;
using System.Text;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Report.Charts;

/// <summary>
/// The address space of a card from first to last byte; outcomes differ in height and pattern. Too simple for a plotting
/// library: one row of rectangles.
/// </summary>
internal static class CapacityStrip
{
    /// <summary>What the heights mean.</summary>
    public const string Legend =
        "<p class=legend><span><svg viewBox=\"0 0 12 12\" aria-hidden=true><path class=f-data d=\"M0 0h12v12H0z\"/></svg>kept</span>"
        + "<span><svg viewBox=\"0 0 12 12\" aria-hidden=true><path class=s-data d=\"M2 0v12M6 0v12M10 0v12\"/>"
        + "</svg>kept where sampled</span>"
        + "<span><svg viewBox=\"0 0 12 12\" aria-hidden=true><path class=f-bad d=\"M0 6h12v6H0z\"/></svg>wrapped, lost or unreadable</span>"
        + "<span><svg viewBox=\"0 0 12 12\" aria-hidden=true><path class=\"f-none s-rule\" d=\"M0.5 10h11v1.5h-11z\"/>"
        + "</svg>not probed</span>"
        + "<span><svg viewBox=\"0 0 12 12\" aria-hidden=true><path class=\"f-none s-rule\" d=\"M0.5 3.5h11v8h-11z\"/>"
        + "</svg>not judged</span></p>";

    /// <summary>Between two ticks of a stretch that was sampled.</summary>
    private const double Tick = 4;

    private const double Left = 4;
    private const double Span = 332;

    /// <summary>SVG elements of the strip, 340 by 44 user units.</summary>
    public static string Draw(CapacityMap map)
    {
        var svg = new StringBuilder();
        foreach (CapacitySegment segment in map.Segments)
        {
            double x = Left + Span * segment.Start;
            double width = Math.Max(0.4, Span * (segment.End - segment.Start));
            if (segment.Outcome == "kept where sampled")
            {
                svg.Append("<path class=s-data d=\"");
                for (double at = 0; at <= width; at += Tick)
                {
                    svg.Append(CultureInfo.InvariantCulture, $"M{ThemedSvgContext.N(x + at)} 26v-22");
                }

                svg.Append("\"/>");
                continue;
            }

            (string style, double height) = segment.Outcome switch
            {
                "kept" => ("f-data", 22.0),
                "not probed" => ("f-none s-rule", 3.0),
                "not judged" => ("f-none s-rule", 16.0),
                _ => ("f-bad", 11.0),
            };
            string across = ThemedSvgContext.N(width);
            svg.Append($"<path class=\"{style}\" d=\"M{ThemedSvgContext.N(x)} 26h{across}v-{ThemedSvgContext.N(height)}h-{across}z\"/>");
        }

        svg.Append(CultureInfo.InvariantCulture,
            $"<path class=\"f-none s-rule\" d=\"M{Left} 26h{Span}\"/><text x={Left} y=39 class=f-soft>0</text>");
        svg.Append(CultureInfo.InvariantCulture, $"<text x=336 y=39 text-anchor=end class=f-soft>{map.ClaimedGigabytes.Text} GB</text>");
        return svg.ToString();
    }
}
