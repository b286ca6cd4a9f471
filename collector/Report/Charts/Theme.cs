using OxyPlot;

namespace Cardassay.Collector.Report.Charts;

/// <summary>Colours by role. The values only tell roles apart; the style sheet decides how each looks in light, dark and print.</summary>
internal static class Theme
{
    /// <summary>Text and main marks.</summary>
    public static readonly OxyColor Ink = OxyColor.FromRgb(1, 0, 0);

    /// <summary>Secondary text and marks.</summary>
    public static readonly OxyColor Soft = OxyColor.FromRgb(2, 0, 0);

    /// <summary>Axis lines and grids.</summary>
    public static readonly OxyColor Rule = OxyColor.FromRgb(3, 0, 0);

    /// <summary>Data.</summary>
    public static readonly OxyColor Data = OxyColor.FromRgb(4, 0, 0);

    /// <summary>Second series.</summary>
    public static readonly OxyColor Second = OxyColor.FromRgb(5, 0, 0);

    /// <summary>Intervals behind data.</summary>
    public static readonly OxyColor Band = OxyColor.FromRgb(6, 0, 0);

    /// <summary>What went wrong.</summary>
    public static readonly OxyColor Bad = OxyColor.FromRgb(7, 0, 0);

    /// <summary>Paper, for open marks.</summary>
    public static readonly OxyColor Paper = OxyColor.FromRgb(8, 0, 0);

    private static readonly string[] Names = ["ink", "ink", "soft", "rule", "data", "second", "band", "bad", "paper"];

    /// <summary>Class suffix of a role.</summary>
    public static string Name(OxyColor color) => Names[color.R < Names.Length ? color.R : 0];
}
