using System.Globalization;
using Cardassay.Identity;

namespace Cardassay.Collector.Exchange.HandKept;

/// <summary>The members of a claim, once for the command line and for CSV files.</summary>
internal static class ClaimFields
{
    internal static readonly IReadOnlyList<ClaimField> All =
    [
        new("maker", "maker", "TEXT", "Maker as printed.", ClaimShape.Text, (c, v) => c with { Maker = v }),
        new("product", "product", "TEXT", "Product as printed.", ClaimShape.Text, (c, v) => c with { Product = v }),
        new("gigabytes", "labelGigabytes", "GB", "Capacity printed on the card, decimal gigabytes.", ClaimShape.Capacity, (c, v) => c with { LabelGigabytes = Decimal(v) }),
        new("marks", "marks", "MARKS", "Marks printed on the card, separated by spaces (C10 U3 V30 A2); \"none\" when there are none.", ClaimShape.Text, (c, v) => c with { Marks = ClaimCheck.SplitMarks(v) }),
        new("stated-read", "statedReadMBps", "MB/S", "Stated read speed, MB/s.", ClaimShape.Speed, (c, v) => c with { StatedReadMegabytesPerSecond = Double(v) }),
        new("stated-write", "statedWriteMBps", "MB/S", "Stated write speed, MB/s.", ClaimShape.Speed, (c, v) => c with { StatedWriteMegabytesPerSecond = Double(v) }),
        new("price", "price", "NUMBER", "Price paid; needs the currency.", ClaimShape.Money, (c, v) => c with { Price = Decimal(v) }),
        new("currency", "currency", "CODE", "ISO 4217 code of the price.", ClaimShape.Text, (c, v) => c with { Currency = v }),
        new("price-date", "priceDate", "DATE", "Day of the price, yyyy-MM-dd.", ClaimShape.Day, (c, v) => c with { PriceDate = Date(v) }),
        new("purchased", "purchased", "DATE", "Day the card was bought, yyyy-MM-dd.", ClaimShape.Day, (c, v) => c with { Purchased = Date(v) }),
        new("bought-at", "boughtAt", "TEXT", "Where it was bought.", ClaimShape.Text, (c, v) => c with { BoughtAt = v }),
        new("condition", "condition", "new|used", "New, or used with an unknown past.", ClaimShape.Text, (c, v) => c with { Condition = Condition(v) }),
        new("reference", "reference", "yes|no", "Whether you vouch for this card, so that its registers teach what this claim looks like.", ClaimShape.Text, (c, v) => c with { IsReference = YesNo(v) }),
        new("invented", "invented", "yes|no", "Made-up data; every report then says so.", ClaimShape.Text, (c, v) => c with { Invented = YesNo(v) }),
    ];

    /// <summary>Makes a claim from texts. Problems name the field as the caller calls it.</summary>
    internal static Claim Make(string tag, Func<ClaimField, string?> valueOf, Func<ClaimField, string> nameOf, List<string> problems)
    {
        var claim = new Claim { Tag = tag };
        foreach (ClaimField field in All)
        {
            string? value = valueOf(field)?.Trim();
            if (value is null or "")
            {
                continue;
            }

            try
            {
                claim = field.Set(claim, value);
            }
            catch (FormatException e)
            {
                problems.Add($"{nameOf(field)}: {e.Message}");
            }
        }

        problems.AddRange(ClaimCheck.Problems(claim));
        return claim;
    }

    /// <summary>The member whose column has this name, whatever its case and signs; null when there is none.</summary>
    internal static ClaimField? OfColumn(string bare) => All.FirstOrDefault(f => f.Column.Equals(bare, StringComparison.OrdinalIgnoreCase));

    private static decimal Decimal(string text) =>
        decimal.TryParse(text, NumberStyles.AllowDecimalPoint | NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out decimal value)
            ? value
            : throw new FormatException($"\"{text}\" is not a number; write it like 12.90.");

    private static double Double(string text) =>
        double.TryParse(text, NumberStyles.AllowDecimalPoint | NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out double value)
            ? value
            : throw new FormatException($"\"{text}\" is not a number; write it like 90.");

    private static DateOnly Date(string text) =>
        DateOnly.TryParseExact(text, "yyyy-MM-dd", CultureInfo.InvariantCulture, DateTimeStyles.None, out DateOnly value)
            ? value
            : throw new FormatException($"\"{text}\" is not a date; write it like 2026-02-28.");

    private static CardCondition Condition(string text) => text.ToLowerInvariant() switch
    {
        "new" => CardCondition.New,
        "used" or "second-hand" => CardCondition.Used,
        _ => throw new FormatException($"\"{text}\" is neither new nor used."),
    };

    private static bool YesNo(string text) => text.ToLowerInvariant() switch
    {
        "yes" or "true" => true,
        "no" or "false" => false,
        _ => throw new FormatException($"\"{text}\" is neither yes nor no."),
    };
}
