using System.Text.RegularExpressions;

namespace Cardassay.Collector.Exchange.HandKept;

/// <summary>A price as people write it: "12.90", "12,90 EUR", "€ 12.90".</summary>
internal static partial class MoneyText
{
    /// <summary>The ISO 4217 code of a sign that stands for one currency only; another text as it is. The dollar sign stands for many.</summary>
    internal static string CodeOf(string text) => text switch
    {
        "€" => "EUR",
        "£" => "GBP",
        _ => text,
    };

    /// <summary>The number, and the currency beside it or null.</summary>
    /// <exception cref="FormatException">There is something else beside it.</exception>
    internal static (string Number, string? Currency) Split(string text)
    {
        Match match = Price().Match(text.Trim());
        if (!match.Success)
        {
            throw new FormatException(text.Contains('$', StringComparison.Ordinal)
                ? $"\"{text}\": many currencies have that sign; write the ISO 4217 code, for example 12.90 USD."
                : $"\"{text}\" is not a price; write it like 12.90 or 12.90 EUR.");
        }

        string beside = match.Groups[1].Value + match.Groups[3].Value;
        return (match.Groups[2].Value, beside.Length == 0 ? null : CodeOf(beside));
    }

    [GeneratedRegex(@"^([A-Z]{3}|[€£])?\s*([0-9.,]+)\s*([A-Z]{3}|[€£])?$")]
    private static partial Regex Price();
}
