using System.Globalization;

namespace Cardassay.Agent.Conditions;

/// <summary>What a card host says of its bus: debugfs `ios` (Linux, drivers/mmc/core/debugfs.c, mmc_ios_show).</summary>
/// <param name="Mode">"timing spec" ("sd uhs SDR104"), null when the kernel itself calls it invalid.</param>
/// <param name="ClockHz">"clock", Hz.</param>
/// <param name="ActualClockHz">"actual clock", Hz; the kernel leaves the line out when the driver does not tell.</param>
/// <param name="WidthBits">"bus width", data lines.</param>
/// <param name="SignalVoltage">"signal voltage" ("1.80 V").</param>
public sealed record BusState(string? Mode, long? ClockHz, long? ActualClockHz, int? WidthBits, string? SignalVoltage)
{
    /// <summary>Reads the text; a line that is missing or does not parse gives null.</summary>
    public static BusState Parse(string text) => new(
        InParentheses(Line(text, "timing spec")) is { } mode && mode != "invalid" ? mode : null,
        Hertz(Line(text, "clock")),
        Hertz(Line(text, "actual clock")),
        Width(InParentheses(Line(text, "bus width"))),
        InParentheses(Line(text, "signal voltage")) is { } volt && volt != "invalid" ? volt : null);

    /// <summary>
    /// Sum of the counters of `err_stats` (Linux 6.0, one line "# WORDS: COUNT" each); null when no line holds one.
    /// </summary>
    public static long? SumOfErrors(string text)
    {
        long sum = 0;
        bool any = false;
        foreach (string line in text.Split('\n'))
        {
            int colon = line.LastIndexOf(':');
            if (colon > 0 && long.TryParse(line.AsSpan(colon + 1).Trim(), NumberStyles.None, CultureInfo.InvariantCulture, out long count))
            {
                sum = unchecked(sum + count) < 0 ? long.MaxValue : sum + count;
                any = true;
            }
        }

        return any ? sum : null;
    }

    private static string? Line(string text, string name)
    {
        foreach (string line in text.Split('\n'))
        {
            if (line.Length > name.Length && line[name.Length] == ':' && line.StartsWith(name, StringComparison.Ordinal))
            {
                return line[(name.Length + 1)..].Trim();
            }
        }

        return null;
    }

    private static string? InParentheses(string? line)
    {
        int open = line?.IndexOf('(') ?? -1;
        int close = line?.LastIndexOf(')') ?? -1;
        return open >= 0 && close > open + 1 ? line![(open + 1)..close] : null;
    }

    private static long? Hertz(string? line) =>
        line is not null && line.EndsWith(" Hz", StringComparison.Ordinal)
        && long.TryParse(line.AsSpan(0, line.Length - 3), NumberStyles.None, CultureInfo.InvariantCulture, out long value) ? value : null;

    private static int? Width(string? words) =>
        words is not null && words.EndsWith(" bits", StringComparison.Ordinal)
        && int.TryParse(words.AsSpan(0, words.Length - 5), NumberStyles.None, CultureInfo.InvariantCulture, out int bits) ? bits : null;
}
