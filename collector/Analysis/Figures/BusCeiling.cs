namespace Cardassay.Collector.Analysis.Figures;

/// <summary>What a bus mode can carry at the most.</summary>
public static class BusCeiling
{
    /// <summary>A figure above the ceiling times this comes from a cache or a timer, never from a fast card.</summary>
    public const double Tolerance = 1.02;

    // SD Association, public page on bus speeds, at 4 data lines; eMMC HS200 and HS400 at 8. Clocks: SD Physical Layer Simplified
    // Specification 4.10, table 3-1; names as the Linux kernel prints them in debugfs `ios` (drivers/mmc/core/debugfs.c).
    private static readonly (string Name, double MegabytesPerSecond, double ClockHz, int Lines)[] Modes =
    [
        ("SDR104", 104, 208e6, 4),
        ("DDR50", 50, 50e6, 4),
        ("SDR50", 50, 100e6, 4),
        ("SDR25", 25, 50e6, 4),
        ("SDR12", 12.5, 25e6, 4),
        ("HS400", 400, 200e6, 8),
        ("HS200", 200, 200e6, 8),
        ("high-speed", 25, 50e6, 4),
        ("legacy", 12.5, 25e6, 4),
    ];

    /// <summary>Ceiling in decimal MB/s; null when the mode is not known.</summary>
    /// <param name="busMode">Bus mode as the kernel names it.</param>
    /// <param name="widthBits">Data lines in use, or null for the usual number.</param>
    /// <param name="actualClockHz">Clock reached; above the mode's own it raises the ceiling in proportion.</param>
    public static double? MegabytesPerSecond(string? busMode, int? widthBits, long? actualClockHz)
    {
        if (busMode is null)
        {
            return null;
        }

        foreach ((string name, double ceiling, double clock, int lines) in Modes)
        {
            if (busMode.Contains(name, StringComparison.OrdinalIgnoreCase))
            {
                double width = widthBits is { } bits and > 0 ? (double)bits / lines : 1;
                double speed = actualClockHz is { } hz ? Math.Max(1, hz / clock) : 1;
                return ceiling * width * speed;
            }
        }

        return null;
    }

    /// <summary>True for the UHS modes, the condition of the marks U and V.</summary>
    public static bool IsUhs(string? busMode) => busMode?.Contains("uhs", StringComparison.OrdinalIgnoreCase) == true;
}
