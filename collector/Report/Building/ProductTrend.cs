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

    /// <summary>The table with its pictures and a sentence for products that have the same to say.</summary>
    public static ReportTable Build(IReadOnlyList<ReportCard> cards)
    {
        (string Product, ReportCard[] Cards)[] all =
        [
            .. Several(cards)
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
            [.. products.SelectMany(p => Rows(p.Product, p.Cards)).Take(RowsShown)])
        {
            Pictures = [.. products.Select(p => Picture(p.Product, p.Cards)).OfType<ReportPicture>().Take(Pictured)],
        };
    }

    private static IEnumerable<IReadOnlyList<string>> Rows(string product, ReportCard[] cards)
    {
        Dictionary<string, ReportMetric> reads = Alike(cards, "randomRead"), writes = Alike(cards, "randomWrite");
        return cards.Select(c => (IReadOnlyList<string>)
        [
            product, c.Title, Made(c) is { Length: > 0 } made ? made : "not read", c.Offer.Bought is { } day ? Wording.Day(day) : "not known", c.Revision?.Registers ?? "hidden",
            c.Rank?.Text ?? "–", reads.GetValueOrDefault(c.Title)?.Median.Text ?? "–", writes.GetValueOrDefault(c.Title)?.Median.Text ?? "–",
        ]);
    }

    /// <summary>The figures of specimens that may stand beside each other, by title: those measured as most specimens were.</summary>
    private static Dictionary<string, ReportMetric> Alike(ReportCard[] specimens, string key)
    {
        (string Title, ReportMetric Metric)[] all = [.. specimens.Select(c => (c.Title, Metric: c.Metric(key))).Where(c => c.Metric is not null).Select(c => (c.Title, c.Metric!))];
        string? usual = all.GroupBy(c => c.Metric.Series, StringComparer.Ordinal).OrderByDescending(g => g.Count()).ThenBy(g => g.Key, StringComparer.Ordinal).FirstOrDefault()?.Key;
        return all.Where(c => c.Metric.Series == usual).DistinctBy(c => c.Title).ToDictionary(c => c.Title, c => c.Metric, StringComparer.Ordinal);
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
        int[] best = [.. ranked.Select(c => c.Rank!.Best)];
        long pairs = ranked.Sum(one => (long)ranked.Length - FirstBehind(best, one.Rank!.Worst));
        IEnumerable<string> named = ranked.SelectMany(one => ranked.Skip(FirstBehind(best, one.Rank!.Worst)).Select(other => $"{Named(one)} ahead of {Named(other)}")).Take(PairsNamed);
        string apart = ranked.Length < 2 ? "too few are ranked to hold them against each other"
            : pairs == 0 ? "their ranks do not tell them apart"
            : $"told apart: {string.Join(", ", named)}{(pairs > PairsNamed ? $" and {Wording.Count(pairs - PairsNamed, "more pair", "more pairs")}" : "")}";
        return $"{inside}; {apart}";
    }

    /// <summary>Products of which there are two specimens and more; what is not as claimed is not that product.</summary>
    internal static IEnumerable<IGrouping<string, ReportCard>> Several(IEnumerable<ReportCard> cards) =>
        cards.Where(c => c.Product.Length > 0 && c.VerdictKind != VerdictKind.NotAsClaimed).GroupBy(c => c.Product, StringComparer.Ordinal).Where(g => g.Count() > 1);

    /// <summary>The revisions that registers tell, each once.</summary>
    internal static string[] Registers(IEnumerable<ReportCard> cards) => [.. cards.Select(c => c.Revision?.Registers).OfType<string>().Distinct(StringComparer.Ordinal)];

    /// <summary>Place of the first of the sorted ranks that is behind another. A laboratory may have a thousand specimens, and half a million pairs of them.</summary>
    private static int FirstBehind(int[] sorted, int worst)
    {
        (int low, int high) = (0, sorted.Length);
        while (low < high)
        {
            int middle = (low + high) / 2;
            (low, high) = sorted[middle] > worst ? (low, middle) : (middle + 1, high);
        }

        return low;
    }

    private static string Named(ReportCard card) => Made(card) is { Length: > 0 } made ? $"{card.Title} (made {made})" : card.Title;

    private static SpecimensPicture? Picture(string product, ReportCard[] cards)
    {
        Dictionary<string, ReportMetric> reads = Alike(cards, "randomRead");
        SpecimensRow[] rows =
        [
            .. cards.Where(c => reads.ContainsKey(c.Title)).Take(RowsShown).Select(c => new SpecimensRow($"{(Made(c) is { Length: > 0 } made ? made + " " : "")}{c.Title}", reads[c.Title])),
        ];
        return rows.Length < 2 ? null : new SpecimensPicture(
            $"{product}: random read, oldest specimen first", $"{product}, random read by specimen: {string.Join("; ", rows.Select(r => $"{r.Name} {r.Metric.Line}"))}.", rows[0].Metric.Unit, rows);
    }

    private static string Made(ReportCard card) => card.Revision?.Made ?? "";
}
