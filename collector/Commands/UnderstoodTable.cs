using System.Globalization;
using Cardassay.Collector.Exchange.HandKept;
using Cardassay.Identity;

namespace Cardassay.Collector.Commands;

/// <summary>Says what was understood of a table before anything of it is kept.</summary>
internal static class UnderstoodTable
{
    /// <summary>True when nothing was guessed: every heading is one of our own names or was mapped, and every line is a row.</summary>
    internal static bool IsSure(TableText table, ColumnMap map, NumberText numbers) =>
        map.Uses.All(u => u.IsSure) && !numbers.WasInferred && table.PassedOver.Count == 0;

    /// <summary>How columns, numbers and lines were taken.</summary>
    internal static void PrintReading(TableText table, ColumnMap map, NumberText numbers)
    {
        foreach ((string column, ColumnUse use) in table.Columns.Zip(map.Uses).Where(c => !c.Second.IsSure))
        {
            Console.WriteLine($"The column \"{Show.Clean(column)}\" was taken as {use.Words}.");
        }

        if (numbers.WasInferred)
        {
            Console.WriteLine("Its numbers were read with a decimal comma.");
        }

        foreach ((int line, string text) in table.PassedOver)
        {
            Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"passed over, line {line}: {Show.Clean(text)}"));
        }
    }

    /// <summary>What it says of the cards.</summary>
    internal static void PrintClaims(IReadOnlyList<(int Line, Claim Claim)> claims, string name)
    {
        if (claims.Count > 0)
        {
            Show.Table(
                string.Create(CultureInfo.InvariantCulture, $"{claims.Count} claims read from {name}"),
                ["Line", "Card", "Says"],
                claims.Select(c => (IReadOnlyList<string>)[c.Line.ToString(CultureInfo.InvariantCulture), c.Claim.Tag, Words(c.Claim)]));
        }
    }

    private static string Words(Claim claim)
    {
        string Number(decimal value) => value.ToString("0.###", CultureInfo.InvariantCulture);
        return string.Join(", ", new[]
        {
            claim.Maker is { } maker ? $"maker {maker}" : null,
            claim.Product is { } product ? $"product {product}" : null,
            claim.LabelGigabytes is { } gigabytes ? $"{Number(gigabytes)} GB" : null,
            claim.Marks is { } marks ? marks.Count == 0 ? "no marks" : $"marks {string.Join(' ', marks)}" : null,
            claim.StatedReadMegabytesPerSecond is { } read ? string.Create(CultureInfo.InvariantCulture, $"stated read {read} MB/s") : null,
            claim.StatedWriteMegabytesPerSecond is { } write ? string.Create(CultureInfo.InvariantCulture, $"stated write {write} MB/s") : null,
            claim.Price is { } price ? $"price {price.ToString("0.00", CultureInfo.InvariantCulture)} {claim.Currency}" : null,
            claim.PriceDate is { } priced ? $"price of {priced:yyyy-MM-dd}" : null,
            claim.Purchased is { } bought ? $"bought {bought:yyyy-MM-dd}" : null,
            claim.BoughtAt is { } shop ? $"at {shop}" : null,
            claim.Condition is { } condition ? condition.ToString().ToLowerInvariant() : null,
            claim.IsReference is { } reference ? reference ? "reference" : "no reference" : null,
            claim.Invented == true ? "invented" : null,
        }.OfType<string>());
    }
}
