using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Report.First;

/// <summary>What sentences call a card: people know products first and stickers second.</summary>
internal static class Names
{
    private const int Named = 8;

    /// <summary>The product, else the tag.</summary>
    public static string ProductOrTitle(ReportCard card) => card.Product.Length > 0 ? card.Product : card.Title;

    /// <summary>"T-08 and T-09", "T-01, T-02 and T-03".</summary>
    public static string List(IEnumerable<string> titles) => titles.ToArray() switch
    {
        [] => "",
        [var one] => one,
        [.. var most, var last] => $"{string.Join(", ", most)} and {last}",
    };

    /// <summary>The same, with the number alone of those beyond the first <see cref="Named"/>.</summary>
    public static string Some(IEnumerable<string> titles)
    {
        string[] all = [.. titles];
        return all.Length <= Named + 1 ? List(all) : $"{string.Join(", ", all.Take(Named))} and {Wording.Number(all.Length - Named)} more";
    }

    /// <summary>"T-15 Ostervane Bulwark 256 GB".</summary>
    public static string TagAndProduct(ReportCard card) => card.Product.Length > 0 ? $"{card.Title} {card.Product}" : card.Title;
}
