using System.Globalization;
using System.Text;
using Cardassay.Collector.Report.Html;
using OxyPlot;

namespace Cardassay.Collector.Report.Charts;

/// <summary>
/// Lets OxyPlot lay out a chart and writes what it draws as SVG elements. The library's own exporter writes fixed colours
/// and a style text on every element: such a chart cannot follow light and dark, and is five times the size. Here a colour
/// is a class the page's style sheet fills in, and lines of one style become one path.
/// </summary>
internal sealed class ThemedSvgContext : ClippingRenderContext
{

    private readonly StringBuilder _svg = new();

    /// <summary>What was drawn so far.</summary>
    public string Elements => _svg.ToString();

    /// <inheritdoc/>
    public override void DrawLine(
        IList<ScreenPoint> points, OxyColor stroke, double thickness, EdgeRenderingMode edgeRenderingMode, double[]? dashArray,
        LineJoin lineJoin)
    {
        if (points.Count > 1 && stroke.IsVisible())
        {
            Path(Polyline(points, closed: false), OxyColors.Undefined, stroke, thickness, dashArray);
        }
    }

    /// <inheritdoc/>
    public override void DrawLineSegments(
        IList<ScreenPoint> points, OxyColor stroke, double thickness, EdgeRenderingMode edgeRenderingMode, double[]? dashArray,
        LineJoin lineJoin)
    {
        if (points.Count < 2 || !stroke.IsVisible())
        {
            return;
        }

        var data = new StringBuilder();
        for (int i = 0; i + 1 < points.Count; i += 2)
        {
            data.Append(CultureInfo.InvariantCulture, $"M{N(points[i].X)} {N(points[i].Y)}L{N(points[i + 1].X)} {N(points[i + 1].Y)}");
        }

        Path(data.ToString(), OxyColors.Undefined, stroke, thickness, dashArray);
    }

    /// <inheritdoc/>
    public override void DrawPolygon(
        IList<ScreenPoint> points, OxyColor fill, OxyColor stroke, double thickness, EdgeRenderingMode edgeRenderingMode,
        double[]? dashArray, LineJoin lineJoin) =>
        Path(Polyline(points, closed: true), fill, stroke, thickness, dashArray);

    /// <inheritdoc/>
    public override void DrawRectangle(
        OxyRect rect, OxyColor fill, OxyColor stroke, double thickness, EdgeRenderingMode edgeRenderingMode) =>
        Path(
            string.Create(CultureInfo.InvariantCulture,
                $"M{N(rect.Left)} {N(rect.Top)}h{N(rect.Width)}v{N(rect.Height)}h{N(-rect.Width)}z"),
            fill, stroke, thickness, null);

    /// <inheritdoc/>
    public override void DrawEllipse(OxyRect extents, OxyColor fill, OxyColor stroke, double thickness, EdgeRenderingMode edgeRenderingMode)
    {
        _svg.Append(CultureInfo.InvariantCulture,
            $"<circle cx=\"{N(extents.Center.X)}\" cy=\"{N(extents.Center.Y)}\" r=\"{N(extents.Width / 2)}\"");
        Paint(fill, stroke, thickness, null);
        _svg.Append("/>");
    }

    /// <inheritdoc/>
    public override void DrawText(
        ScreenPoint p, string text, OxyColor fill, string? fontFamily, double fontSize, double fontWeight, double rotation,
        HorizontalAlignment horizontalAlignment, VerticalAlignment verticalAlignment, OxySize? maxSize)
    {
        if (string.IsNullOrEmpty(text))
        {
            return;
        }

        double dy = verticalAlignment switch { VerticalAlignment.Top => 0.8, VerticalAlignment.Middle => 0.35, _ => -0.2 } * fontSize;
        string anchor = horizontalAlignment switch
        {
            HorizontalAlignment.Left => "",
            HorizontalAlignment.Center => " text-anchor=\"middle\"",
            _ => " text-anchor=\"end\"",
        };
        _svg.Append(CultureInfo.InvariantCulture,
            $"<text x=\"{N(p.X)}\" y=\"{N(p.Y + dy)}\"{anchor} class=\"f-{Theme.Name(fill)}\">{Page.Encoded(text)}</text>");
    }

    /// <inheritdoc/>
    // The reader's font is unknown; a mean digit width is enough to keep labels apart and is the same on every machine.
    public override OxySize MeasureText(string text, string? fontFamily, double fontSize, double fontWeight) =>
        string.IsNullOrEmpty(text) ? OxySize.Empty : new OxySize(text.Length * fontSize * 0.65, fontSize * 1.2);

    /// <inheritdoc/>
    // Axes always cover all values, so nothing is ever drawn outside them.
    protected override void SetClip(OxyRect clippingRectangle)
    {
    }

    /// <inheritdoc/>
    protected override void ResetClip()
    {
    }

    /// <summary>A coordinate to a tenth of a unit.</summary>
    internal static string N(double value)
    {
        string text = Math.Round(value, 1).ToString("0.#", CultureInfo.InvariantCulture);
        return text == "-0" ? "0" : text;
    }

    private static string Polyline(IList<ScreenPoint> points, bool closed)
    {
        var data = new StringBuilder();
        for (int i = 0; i < points.Count; i++)
        {
            data.Append(CultureInfo.InvariantCulture, $"{(i == 0 ? 'M' : 'L')}{N(points[i].X)} {N(points[i].Y)}");
        }

        return data.Append(closed ? "z" : "").ToString();
    }

    private void Path(string data, OxyColor fill, OxyColor stroke, double thickness, double[]? dashArray)
    {
        _svg.Append(CultureInfo.InvariantCulture, $"<path d=\"{data}\"");
        Paint(fill, stroke, thickness, dashArray);
        _svg.Append("/>");
    }

    private void Paint(OxyColor fill, OxyColor stroke, double thickness, double[]? dashArray)
    {
        string fillClass = fill.IsVisible() ? "f-" + Theme.Name(fill) : "f-none";
        bool stroked = stroke.IsVisible() && thickness > 0;
        _svg.Append(CultureInfo.InvariantCulture, $" class=\"{fillClass}{(stroked ? " s-" + Theme.Name(stroke) : "")}\"");
        if (stroked && thickness != 1)
        {
            _svg.Append(CultureInfo.InvariantCulture, $" stroke-width=\"{N(thickness)}\"");
        }

        if (stroked && dashArray is { Length: > 0 })
        {
            _svg.Append(" stroke-dasharray=\"").AppendJoin(' ', dashArray.Select(d => N(d * Math.Max(1, thickness)))).Append('"');
        }
    }
}
