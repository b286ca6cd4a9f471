using Cardassay.Collector.Report.Model;
using Cardassay.Identity;

namespace Cardassay.Collector.Report.First;

/// <summary>Which card one would take for the profile, for how much, what is as good for less, and how sure that is.</summary>
internal static class TakePart
{
    /// <summary>Products named when several lead together.</summary>
    private const int ProductsNamed = 4;

    /// <summary>The answer, the most telling sentence first.</summary>
    /// <param name="model">The report.</param>
    /// <param name="prices">False says nothing of money, not even that a price is unknown.</param>
    public static IEnumerable<string> Lines(ReportModel model, bool prices = true)
    {
        ReportCard[] ranked = [.. model.Cards.Where(c => c.Rank is not null)];
        ReportCard[] eligible = [.. ranked.Where(IsEligible)];
        if (eligible.Length == 0)
        {
            yield return ranked.Length == 0
                ? $"No card can be named: none has all the figures that the profile {model.Profile} needs."
                : $"No card can be named: {Wording.Count(ranked.Length, "card is", "cards are")} ranked, none of them free of doubt, "
                    + "above the floors and not known to be used.";
            yield break;
        }

        ReportCard[] leaders = [.. eligible.Where(c => IsLevelWith(c, eligible[0]))];
        IGrouping<string, ReportCard>[] products = [.. leaders.GroupBy(Names.ProductOrTitle)];
        if (products.Length == 1)
        {
            yield return Priced(leaders, prices) + ".";
            yield return Figures(leaders, ranked);
            yield return Sure(leaders, ranked) + " " + Size(leaders) + Part(model);
            ReportCard[] others = [.. eligible.Where(c => !leaders.Contains(c))];
            yield return prices ? ForLess(leaders, others)
                : others.Length > 0
                    ? $"The next is {Names.ProductOrTitle(others[0])}, {others[0].Composite!.Value.Text} times the reference."
                : "";
        }
        else
        {
            yield return $"{Wording.Number(products.Length)} products lead together, and no order is known among them: "
                + string.Join("; ", products.Take(ProductsNamed).Select(p => Priced([.. p], prices)))
                + (products.Length > ProductsNamed ? " and more." : ".");
            if (prices && CheapestOffer(leaders) is { } cheapest)
            {
                yield return $"The cheapest of them is {Names.ProductOrTitle(leaders.First(c => ReferenceEquals(c.Offer, cheapest)))} at "
                    + $"{cheapest.PriceText}.";
            }
        }

        if (products.Length > 1)
        {
            yield return Sure(leaders, ranked) + " " + Size(leaders) + Part(model);
        }
    }

    /// <summary>What the order does not speak of; the plan system-disk would.</summary>
    private static string Part(ReportModel model) => model.RankedPart.Length == 0 ? ""
        : $" Measured {model.RankedPart}; beyond that nothing is known.";

    /// <summary>A card that one may recommend: no doubt, no floor missed, not used.</summary>
    public static bool IsEligible(ReportCard card) =>
        card.VerdictKind is VerdictKind.AsClaimed or VerdictKind.AsClaimedSparselyProbed or VerdictKind.NotProven
        && card.Condition != "used" && card.MissedFloors.Length == 0;

    private static string Figures(ReportCard[] leaders, ReportCard[] ranked)
    {
        int all = ranked.Count(c => Names.ProductOrTitle(c) == Names.ProductOrTitle(leaders[0]));
        string tags = Names.List(leaders.Select(c => c.Title));
        string specimens = all == 1
            ? $"One specimen, {tags}"
            : $"{Wording.Number(leaders.Length)} of {Wording.Number(all)} specimens ranked ({tags})";
        Figure[] reads = [.. leaders.Select(c => c.Metric("randomRead")?.Median).OfType<Figure>()];
        return $"{specimens}: {Span(leaders.Select(c => c.Composite!.Value))} times the "
            + $"reference{(reads.Length > 0 ? $", {Span(reads)} random reads a second" : "")}.";
    }

    private static string ForLess(ReportCard[] leaders, ReportCard[] others)
    {
        if (others.Length == 0)
        {
            return "No other ranked card can be recommended; what is as good for less money is not known.";
        }

        if (CheapestOffer(leaders) is not { Price: decimal price } offer)
        {
            string unknown = leaders.Any(c => c.Offer.Price is not null) ? "Its prices are in several currencies" : "Its price is unknown";
            return $"{unknown}, so nothing is said about less money; the next is {Short(others[0])}, "
                + $"{others[0].Composite!.Value.Text} times the reference.";
        }

        // Prices in another currency say nothing of what is cheaper.
        ReportCard[] comparable = [.. others.Where(c => c.Offer.Price is not null && c.Offer.Currency == offer.Currency)];
        return comparable.FirstOrDefault(c => c.Offer.Price <= price) is { } cheaper
            ? $"For no more money the next is {Priced([cheaper], prices: true)}: {cheaper.Composite!.Value.Text} times the reference."
            : (comparable.Length == 0
                ? "No other card that one may take has a price in this currency; "
                : $"No other card that one may take costs less ({Wording.Number(comparable.Length)} with a price); ")
                + $"the next is {Short(others[0])}, {others[0].Composite!.Value.Text} times the reference.";
    }

    /// <summary>The lowest price of the specimens; null where none has one. Prices in several currencies have no lowest.</summary>
    private static Offer? CheapestOffer(ReportCard[] cards) =>
        cards.Select(c => c.Offer).Where(o => o.Price is not null).GroupBy(o => o.Currency).ToArray() is [var one]
            ? one.MinBy(o => o.Price)
            : null;

    private static string Sure(ReportCard[] leaders, ReportCard[] ranked)
    {
        int worst = leaders.Max(c => c.Rank!.Worst);
        string provisional = leaders.Any(c => c.Rank!.Provisional) ? " Provisional: too few runs or nights stand behind it." : "";
        return (leaders.Length == ranked.Length
            ? ranked.Length == 1
                ? "The only ranked card: nothing is known to be behind it."
                : $"All {Wording.Number(ranked.Length)} ranked cards are level: nothing is known to be behind these."
            : worst <= leaders.Length
            ? $"Sure of the lead: at 95 %, for all {Wording.Count(ranked.Length, "ranked card", "ranked cards")} at once."
            : $"Not sure of the lead: the ranks reach to {Wording.Number(worst)} of {Wording.Number(ranked.Length)}.") + provisional;
    }

    private static string Size(ReportCard[] leaders)
    {
        string Of(VerdictKind kind) => string.Join(", ", leaders.Where(c => c.VerdictKind == kind).Select(c => c.Title));
        string full = Of(VerdictKind.AsClaimed), sparse = Of(VerdictKind.AsClaimedSparselyProbed), none = Of(VerdictKind.NotProven);
        string[] parts =
        [
            full.Length > 0 ? $"{full} written to the end and read back" : "",
            sparse.Length > 0 ? $"{sparse} only sampled" : "",
            none.Length > 0 ? $"{none} not proven" : "",
        ];
        return $"Its size: {string.Join("; ", parts.Where(p => p.Length > 0))}.";
    }

    private static bool IsLevelWith(ReportCard card, ReportCard first) =>
        first.Rank!.Group > 0 ? card.Rank!.Group == first.Rank.Group : ReferenceEquals(card, first);

    private static string Priced(ReportCard[] cards, bool prices)
    {
        string name = Names.ProductOrTitle(cards[0]);
        if (!prices)
        {
            return name;
        }

        if (CheapestOffer(cards) is not { } cheapest)
        {
            return cards.Any(c => c.Offer.Price is not null) ? $"{name}, priced in several currencies" : $"{name}, price unknown";
        }

        string age = cheapest.PriceAgeDays is int days ? $"price {Wording.Count(days, "day", "days")} old" : "price without a date";
        return $"{name}, {cheapest.PriceText} ({(cheapest.Shop is { } shop ? shop + "; " : "")}{age})";
    }

    /// <summary>A card that is not the answer: its price without shop and age, which stand in the ranking.</summary>
    private static string Short(ReportCard card) =>
        $"{Names.ProductOrTitle(card)}, {(card.Offer.PriceText.Length > 0 ? card.Offer.PriceText : "price unknown")}";

    private static string Span(IEnumerable<Figure> figures)
    {
        Figure[] sorted = [.. figures.OrderBy(f => f.Raw)];
        return sorted[0].Text == sorted[^1].Text ? sorted[0].Text : $"{sorted[0].Text} to {sorted[^1].Text}";
    }
}
