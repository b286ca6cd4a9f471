using System.Globalization;
using Cardassay.Identity;

namespace Cardassay.Wire;

/// <summary>Turns claims into messages and back.</summary>
public static class ClaimCodec
{
    private const string Day = "yyyy-MM-dd";

    /// <summary>The message for a claim.</summary>
    public static V1.Claim ToMessage(Claim claim)
    {
        ArgumentNullException.ThrowIfNull(claim);
        var message = new V1.Claim
        {
            Tag = claim.Tag,
            MarksStated = claim.Marks is not null,
            Condition = (V1.CardCondition)claim.Condition,
        };
        message.Marks.AddRange(claim.Marks ?? []);
        Set(claim.Maker, v => message.Maker = v);
        Set(claim.Product, v => message.Product = v);
        Set(claim.LabelGigabytes?.ToString(CultureInfo.InvariantCulture), v => message.LabelGigabytes = v);
        Set(claim.Price?.ToString(CultureInfo.InvariantCulture), v => message.Price = v);
        Set(claim.Currency, v => message.Currency = v);
        Set(claim.PriceDate?.ToString(Day, CultureInfo.InvariantCulture), v => message.PriceDate = v);
        Set(claim.Purchased?.ToString(Day, CultureInfo.InvariantCulture), v => message.Purchased = v);
        Set(claim.BoughtAt, v => message.BoughtAt = v);
        if (claim.StatedReadMegabytesPerSecond is { } read)
        {
            message.StatedReadMbPerS = read;
        }

        if (claim.StatedWriteMegabytesPerSecond is { } write)
        {
            message.StatedWriteMbPerS = write;
        }

        if (claim.Invented is { } invented)
        {
            message.Invented = invented;
        }

        if (claim.IsReference is { } isReference)
        {
            message.Reference = isReference;
        }

        return message;
    }

    /// <summary>The claim of a message.</summary>
    /// <exception cref="WireFormatException">A number or a date cannot be read; the message names the field.</exception>
    public static Claim FromMessage(V1.Claim message)
    {
        ArgumentNullException.ThrowIfNull(message);
        return new Claim
        {
            Tag = message.Tag,
            Maker = message.HasMaker ? message.Maker : null,
            Product = message.HasProduct ? message.Product : null,
            LabelGigabytes = message.HasLabelGigabytes ? Number(message.LabelGigabytes, "label_gigabytes") : null,
            Marks = message.MarksStated ? [.. message.Marks] : null,
            StatedReadMegabytesPerSecond = message.HasStatedReadMbPerS ? message.StatedReadMbPerS : null,
            StatedWriteMegabytesPerSecond = message.HasStatedWriteMbPerS ? message.StatedWriteMbPerS : null,
            Price = message.HasPrice ? Number(message.Price, "price") : null,
            Currency = message.HasCurrency ? message.Currency : null,
            PriceDate = message.HasPriceDate ? Date(message.PriceDate, "price_date") : null,
            Purchased = message.HasPurchased ? Date(message.Purchased, "purchased") : null,
            BoughtAt = message.HasBoughtAt ? message.BoughtAt : null,
            Condition = (CardCondition)message.Condition,
            IsReference = message.HasReference ? message.Reference : null,
            Invented = message.HasInvented ? message.Invented : null,
        };
    }

    private static void Set(string? value, Action<string> set)
    {
        if (value is not null)
        {
            set(value);
        }
    }

    private static decimal Number(string text, string field) =>
        decimal.TryParse(text, NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out decimal value)
            ? value
            : throw new WireFormatException($"{field}: \"{text}\" is not a number.");

    private static DateOnly Date(string text, string field) =>
        DateOnly.TryParseExact(text, Day, CultureInfo.InvariantCulture, DateTimeStyles.None, out DateOnly value)
            ? value
            : throw new WireFormatException($"{field}: \"{text}\" is not a date (yyyy-MM-dd).");
}
