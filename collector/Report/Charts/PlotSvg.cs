using System.Globalization;
using OxyPlot;
using OxyPlot.Axes;

namespace Cardassay.Collector.Report.Charts;

/// <summary>Frame and axes all plotted charts share, sized so that text stays readable on a narrow screen.</summary>
internal static class PlotSvg
{
    /// <summary>Width in user units; the page never shows a chart narrower than about this many pixels.</summary>
    public const double Width = 340;

    /// <summary>Height in user units.</summary>
    public const double Height = 190;

    private const double FontSize = 10.5;

    /// <summary>An empty plot in the theme.</summary>
    public static PlotModel NewPlot() => new()
    {
        PlotAreaBorderThickness = new OxyThickness(0),
        Padding = new OxyThickness(2, 18, 8, 0),
        DefaultFontSize = FontSize,
        TextColor = Theme.Soft,
        Background = OxyColors.Undefined,
        PlotAreaBackground = OxyColors.Undefined,
    };

    /// <summary>Gives an axis the look all charts share.</summary>
    public static T Styled<T>(T axis)
        where T : Axis
    {
        bool vertical = axis.Position is AxisPosition.Left or AxisPosition.Right;
        axis.AxislineStyle = LineStyle.Solid;
        axis.AxislineColor = Theme.Rule;
        axis.TicklineColor = Theme.Rule;
        axis.MinorTicklineColor = Theme.Rule;
        axis.MinorTickSize = 2;
        axis.MajorTickSize = 4;
        axis.TickStyle = TickStyle.Outside;
        axis.MajorGridlineStyle = vertical ? LineStyle.Solid : LineStyle.None;
        axis.MajorGridlineColor = Theme.Rule;
        axis.MajorGridlineThickness = 0.5;
        axis.TextColor = Theme.Soft;
        axis.TitleColor = Theme.Soft;
        axis.TitleFontSize = FontSize;
        axis.AxisTitleDistance = 2;
        axis.FontSize = FontSize;
        axis.IntervalLength = vertical ? 26 : 56;
        return axis;
    }

    /// <summary>Axis label of a number: no grouping, no needless places.</summary>
    public static string Label(double value) => value.ToString("0.####", CultureInfo.InvariantCulture);

    /// <summary>Draws the plot with the unit of its vertical axis above that axis.</summary>
    public static string Render(PlotModel plot, string verticalUnit, double height = Height)
    {
        var context = new ThemedSvgContext();
        ((IPlotModel)plot).Update(true);
        ((IPlotModel)plot).Render(context, new OxyRect(0, 0, Width, height));
        context.DrawText(
            new ScreenPoint(0, 2), verticalUnit, Theme.Soft, null, FontSize, 400, 0, HorizontalAlignment.Left, VerticalAlignment.Top, null);
        return context.Elements;
    }
}
