using System.Globalization;
using System.Text.RegularExpressions;

namespace Cardassay.Collector.Commands;

/// <summary>The series a person numbers stickers in: T-01, T-02 and so on.</summary>
internal static partial class StickerSeries
{
    /// <summary>What a first card is called.</summary>
    private const string First = "T-01";

    /// <summary>The sticker after the highest of the series most stickers are of; the first one when there is no series.</summary>
    internal static string Next(IEnumerable<string> tags)
    {
        IGrouping<string, Match>? series = Series(tags);
        if (series?.MaxBy(m => long.Parse(m.Groups["number"].ValueSpan, CultureInfo.InvariantCulture)) is not { } last)
        {
            return First;
        }

        long next = long.Parse(last.Groups["number"].ValueSpan, CultureInfo.InvariantCulture) + 1;
        return series.Key + next.ToString(CultureInfo.InvariantCulture).PadLeft(last.Groups["number"].Length, '0');
    }

    /// <summary>
    /// True for what may be the beginning of a sticker of the series: a scanner that was taken away too early sends that.
    /// </summary>
    internal static bool MayBeCutOff(string tag, IReadOnlyCollection<string> tags) =>
        Series(tags) is { } series && series.Count() > 1 && series.All(m => m.Length > tag.Length)
            && series.Any(m => m.Value.StartsWith(tag, StringComparison.Ordinal) || tag.StartsWith(series.Key, StringComparison.Ordinal));

    private static IGrouping<string, Match>? Series(IEnumerable<string> tags) =>
        tags.Select(t => Numbered().Match(t)).Where(m => m.Success).GroupBy(m => m.Groups["series"].Value, StringComparer.Ordinal)
            .OrderByDescending(g => g.Count()).ThenBy(g => g.Key, StringComparer.Ordinal).FirstOrDefault();

    [GeneratedRegex("^(?<series>.*?)(?<number>[0-9]{1,9})$", RegexOptions.CultureInvariant)]
    private static partial Regex Numbered();
}
