namespace Cardassay.Trials;

/// <summary>
/// The most a bus mode can carry. Decimal MB/s at 4 data lines for SD, at 8 for eMMC; one line carries a quarter of four (SD
/// Association, public pages on bus speed). The names are those of the kernel (drivers/mmc/core/debugfs.c).
/// </summary>
public static class BusCeiling
{
    /// <summary>A figure above the ceiling times this comes from a cache or a timer, never from a fast card (derived, no source).</summary>
    public const double Tolerance = 1.02;

    private static readonly (string Name, double MegabytesPerSecond, int WidthBits, long ClockHz)[] Modes =
    [
        ("SDR104", 104, 4, 208_000_000),
        ("SDR50", 50, 4, 100_000_000),
        ("DDR50", 50, 4, 50_000_000),
        ("SDR25", 25, 4, 50_000_000),
        ("SDR12", 12.5, 4, 25_000_000),
        ("sd high-speed", 25, 4, 50_000_000),
        ("legacy", 12.5, 4, 25_000_000),
        ("HS200", 200, 8, 200_000_000),
        ("HS400", 400, 8, 200_000_000),
    ];

    /// <summary>Ceiling of the mode in bytes per second; null when the mode is not known.</summary>
    /// <param name="conditions">Mode, width and clock.</param>
    /// <param name="isOverclocked">True when the clock reached is above the mode's own; the ceiling is scaled with it.</param>
    public static double? BytesPerSecond(Conditions conditions, out bool isOverclocked)
    {
        isOverclocked = false;
        foreach ((string name, double megabytesPerSecond, int widthBits, long clockHz) in Modes)
        {
            if (conditions.BusMode?.Contains(name, StringComparison.Ordinal) != true)
            {
                continue;
            }

            double ceiling = megabytesPerSecond * 1e6 * Math.Min(1, (conditions.BusWidthBits ?? widthBits) / (double)widthBits);
            isOverclocked = conditions.ActualClockHz > clockHz;
            return isOverclocked ? ceiling * conditions.ActualClockHz!.Value / clockHz : ceiling;
        }

        return null;
    }

    /// <summary>Ceiling of a mode in decimal MB/s at its usual width and clock; null when the mode is not known.</summary>
    public static double? MegabytesPerSecond(string? busMode) => BytesPerSecond(new Conditions { BusMode = busMode }, out _) / 1e6;

    /// <summary>True for the UHS modes, the condition of the marks U and V.</summary>
    public static bool IsUhs(string? busMode) => busMode?.Contains("uhs", StringComparison.OrdinalIgnoreCase) == true;
}
