using System.Globalization;
using Cardassay.Collector.Report.Model;
using Cardassay.Identity;

namespace Cardassay.Collector.Report.First;

/// <summary>What was sold as something it is not, by the shop that sold it, with the strongest reason.</summary>
internal static class SendBackPart
{
    public static IEnumerable<string> Lines(ReportModel model) =>
        ToReturn(model.Cards).GroupBy(c => (c.Offer.Shop, c.Product, c.Offer.PriceText, c.Offer.Bought, c.Findings[0].Text))
            .Select(same => Line([.. same]));

    /// <summary>Cards with a contradiction, most harm first.</summary>
    public static IEnumerable<ReportCard> ToReturn(IEnumerable<ReportCard> cards) =>
        cards.Where(c => c.VerdictKind == VerdictKind.NotAsClaimed && c.Findings.Count > 0)
            .OrderBy(c => Telling.Weight(c.Findings[0])).ThenBy(c => c.Title, StringComparer.Ordinal);

    private static string Line(ReportCard[] cards)
    {
        ReportCard card = cards[0];
        string[] facts =
        [
            card.Offer.PriceText + (cards.Length > 1 && card.Offer.Price is not null ? " each" : ""),
            card.Offer.Bought is DateOnly day ? day.ToString("d MMM yyyy", CultureInfo.InvariantCulture) : "",
            card.Offer.Shop ?? "shop not recorded",
        ];
        return $"{Names.List(cards.Select(c => c.Title))}{(card.Product.Length > 0 ? " " + card.Product : "")} "
            + $"({string.Join(", ", facts.Where(f => f.Length > 0))}): {card.Findings[0].Text}";
    }
}
