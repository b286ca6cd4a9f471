using System.Globalization;
using Cardassay.Collector.Report.Model;
using Cardassay.Identity;

namespace Cardassay.Collector.Report.Building;

/// <summary>What is sold under one name over its dates of manufacture and purchase: registers and figures of its specimens side by side.</summary>
internal static class ProductTrend
{
    /// <summary>Products pictured.</summary>
    private const int Pictured = 6;

    /// <summary>Rows of the table; those with the most revisions come first.</summary>
    private const int RowsShown = 40;

    /// <summary>Pairs of specimens named in a sentence.</summary>
    private const int PairsNamed = 3;

    /// <summary>Products with two specimens and more; what is not as claimed is not that product.</summary>
    public static ReportTable Build(IReadOnlyList<ReportCard> cards)
    {
        (string Product, ReportCard[] Cards)[] all =
        [
            .. cards.Where(c => c.Product.Length > 0 && c.VerdictKind != VerdictKind.NotAsClaimed).GroupBy(c => c.Product, StringComparer.Ordinal).Where(g => g.Count() > 1)
                .OrderByDescending(g => Registers(g).Length).ThenBy(g => g.Key, StringComparer.Ordinal)
                .Select(g => (g.Key, g.OrderBy(Made, StringComparer.Ordinal).ThenBy(c => c.Offer.Bought).ThenBy(c => c.Title, StringComparer.Ordinal).ToArray())),
        ];
        int rows = 0;
        var shown = all.TakeWhile(p => (rows += p.Cards.Length) <= RowsShown).ToArray();
        (string Product, ReportCard[] Cards)[] products = shown.Length > 0 ? shown : [.. all.Take(1)];
        string rest = all.Length > products.Length ? $" {Wording.Count(all.Length - products.Length, "more product has", "more products have")} several specimens, none with more revisions." : "";
        return new ReportTable(
            "products-over-time", "Products over time",
            string.Join(' ', products.GroupBy(p => Sentence(p.Cards)).Select(alike => $"{First.Names.List(alike.Select(p => p.Product))}: {alike.Key}."))
                + $" Figures stand only where they were measured as most specimens of the product were.{rest}",
            [
                new("Product", false), new("Card", false), new("Made", false), new("Bought", false), new("Registers", false), new("Rank", false), new("Random read, IOPS", true),
                new("Random write, IOPS", true),
            ],
            [.. products.SelectMany(p => p.Cards.Select(c => (IReadOnlyList<string>)
                [
                    p.Product, c.Title, Made(c) is { Length: > 0 } made ? made : "not read", c.Offer.Bought is { } day ? Day(day) : "not known", c.Revision?.Registers ?? "hidden",
                    c.Rank?.Text ?? "–", Alike(p.Cards, c, "randomRead")?.Median.Text ?? "–", Alike(p.Cards, c, "randomWrite")?.Median.Text ?? "–",
                ])).Take(RowsShown)])
        {
            Pictures = [.. products.Select(p => Picture(p.Product, p.Cards)).OfType<ReportPicture>().Take(Pictured)],
        };
    }

    /// <summary>The figure of a specimen where it may stand beside those of the others; null where it was measured in another way, or never.</summary>
    private static ReportMetric? Alike(ReportCard[] specimens, ReportCard card, string key)
    {
        string? usual = specimens.Select(c => c.Metric(key)?.Series).OfType<string>().GroupBy(s => s, StringComparer.Ordinal).OrderByDescending(g => g.Count()).ThenBy(g => g.Key, StringComparer.Ordinal).FirstOrDefault()?.Key;
        return card.Metric(key) is { } metric && metric.Series == usual ? metric : null;
    }

    private static string Sentence(ReportCard[] cards)
    {
        string[] registers = Registers(cards);
        bool someHidden = cards.Any(c => c.Revision is null);
        string inside = registers.Length > 1 ? $"{Wording.Number(registers.Length)} revisions by their registers"
            : registers.Length == 0 ? "whether it changed inside is not known, its registers are hidden"
            : someHidden ? "one revision by the registers that could be read" : "one revision by their registers";
        // Rank spans hold together at 95 %: where two do not meet, the one card is ahead of the other.
        ReportCard[] ranked = [.. cards.Where(c => c.Rank is not null).OrderBy(c => c.Rank!.Best)];
        string apart = ranked.Length < 2 ? "too few are ranked to hold them against each other"
            : ranked.SelectMany(one => ranked.Where(other => one.Rank!.Worst < other.Rank!.Best).Select(other => $"{Named(one)} ahead of {Named(other)}")).ToArray() is { Length: > 0 } pairs
                ? $"told apart: {string.Join(", ", pairs.Take(PairsNamed))}{(pairs.Length > PairsNamed ? $" and {Wording.Number(pairs.Length - PairsNamed)} more pairs" : "")}" : "their ranks do not tell them apart";
        return $"{inside}; {apart}";
    }

    private static string[] Registers(IEnumerable<ReportCard> cards) => [.. cards.Select(c => c.Revision?.Registers).OfType<string>().Distinct(StringComparer.Ordinal)];

    private static string Named(ReportCard card) => Made(card) is { Length: > 0 } made ? $"{card.Title} (made {made})" : card.Title;

    private static SpecimensPicture? Picture(string product, ReportCard[] cards)
    {
        SpecimensRow[] rows = [.. cards.Take(RowsShown).Select(c => (Card: c, Metric: Alike(cards, c, "randomRead"))).Where(c => c.Metric is not null).Select(c => new SpecimensRow($"{(Made(c.Card) is { Length: > 0 } made ? made + " " : "")}{c.Card.Title}", c.Metric!))];
        return rows.Length < 2 ? null : new SpecimensPicture(
            $"{product}: random read, oldest specimen first", $"{product}, random read by specimen: {string.Join("; ", rows.Select(r => $"{r.Name} {r.Metric.Line}"))}.", rows[0].Metric.Unit, rows);
    }

    private static string Made(ReportCard card) => card.Revision?.Made ?? "";

    private static string Day(DateOnly day) => day.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
}
