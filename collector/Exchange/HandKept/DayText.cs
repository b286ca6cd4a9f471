using System.Globalization;

namespace Cardassay.Collector.Exchange.HandKept;

/// <summary>Days as people write them, where only one day can be meant.</summary>
internal static class DayText
{
    /// <summary>With dots the day stands first (common practice, no source); with the year first the month follows (ISO 8601 for the dashed form).</summary>
    private static readonly string[] Forms = ["yyyy-MM-dd", "yyyy/M/d", "d.M.yyyy", "d MMM yyyy", "d MMMM yyyy", "MMM d, yyyy", "MMMM d, yyyy"];

    /// <summary>The day as yyyy-MM-dd; a text that is none comes back as it is, for whoever checks days to name.</summary>
    /// <exception cref="FormatException">It may be one of two days.</exception>
    internal static string Plain(string text)
    {
        if (DateOnly.TryParseExact(text.Trim(), Forms, CultureInfo.InvariantCulture, DateTimeStyles.None, out DateOnly day))
        {
            return day.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
        }

        return text.Count(c => c == '/') == 2
            ? throw new FormatException($"\"{text}\": it cannot be told which is the month; write it like 2026-02-28.")
            : text.Trim();
    }
}
