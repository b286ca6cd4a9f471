using System.Globalization;

namespace Cardassay.Collector.Report.Model;

/// <summary>Where a card was bought and for how much, as the user said. Null is "nobody said"; an unknown price is not free.</summary>
/// <param name="Price">Price paid or seen, in <paramref name="Currency"/>.</param>
/// <param name="Currency">ISO 4217 code, or null when it was not named.</param>
/// <param name="PriceAgeDays">Days between the price and the data of the report, or null when the price has no day.</param>
/// <param name="Bought">Day of purchase.</param>
/// <param name="Shop">Where it was bought.</param>
public sealed record Offer(decimal? Price, string? Currency, int? PriceAgeDays, DateOnly? Bought, string? Shop)
{
    /// <summary>"5.40 XTS", or empty when the price is unknown.</summary>
    public string PriceText => Price is decimal price
        ? $"{price.ToString("0.00##", CultureInfo.InvariantCulture)} {Currency ?? "in an unnamed currency"}"
        : "";
}
