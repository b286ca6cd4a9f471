using Cardassay.Identity;

namespace Cardassay.Collector.Analysis.Ranking;

/// <summary>Price against performance: a card or product is beaten when another costs no more and is surely better. Cards that are not as claimed take no part.</summary>
internal static class PriceFront
{
    private const int MostNamed = 5;

    /// <summary>Priced cards by currency, price, then name.</summary>
    public static IReadOnlyList<PricedCard> Of(RankingTable table, IReadOnlyDictionary<string, Claim?> claims, IReadOnlySet<string> notAsClaimed)
    {
        var result = new List<PricedCard>();
        var priced = Enumerable.Range(0, table.Cards.Count).Select(k => (Index: k, Claim: claims.GetValueOrDefault(table.Cards[k].Name)))
            .Where(x => x.Claim is { Price: not null, Currency: not null } && !notAsClaimed.Contains(table.Cards[x.Index].Name));
        foreach (var currency in priced.GroupBy(x => x.Claim!.Currency!, StringComparer.Ordinal).OrderBy(g => g.Key, StringComparer.Ordinal))
        {
            (int Index, Claim Claim)[] byPrice = [.. currency.Select(x => (x.Index, x.Claim!)).OrderBy(x => x.Item2.Price).ThenBy(x => table.Cards[x.Index].Name, StringComparer.Ordinal)];
            foreach ((int index, Claim claim) in byPrice)
            {
                RankedCard card = table.Cards[index];
                List<string> beatenBy = [];
                for (int o = 0; o < byPrice.Length && byPrice[o].Claim.Price <= claim.Price && beatenBy.Count < MostNamed; o++)
                {
                    if (byPrice[o].Index != index && table.Order!.IsSurelyBetter(byPrice[o].Index, index))
                    {
                        beatenBy.Add(table.Cards[byPrice[o].Index].Name);
                    }
                }

                decimal? perGigabyte = claim.LabelGigabytes is > 0 ? claim.Price / claim.LabelGigabytes : null;
                result.Add(new PricedCard(
                    card.Name, claim.Price!.Value, claim.Currency!, claim.PriceDate, perGigabyte, card.Composite, card.Low, card.High, beatenBy, card.IsProvisional));
            }
        }

        return result;
    }

    /// <summary>
    /// Priced products by currency, lowest price, then name. Only specimens that count have a say: those that are not as claimed are not that product, neither
    /// in its figures nor in its price.
    /// </summary>
    public static IReadOnlyList<PricedProduct> Of(IReadOnlyList<RankedProduct> products, IReadOnlyDictionary<string, Claim?> claims)
    {
        (RankedProduct Product, PricedProduct Row)[] priced =
        [
            .. products.SelectMany(p => p.Specimens.Select(s => claims.GetValueOrDefault(s)).OfType<Claim>().Where(c => c is { Price: not null, Currency: not null })
                .GroupBy(c => c.Currency!, StringComparer.Ordinal).Select(g => (p, new PricedProduct(
                    p.Text, g.Key, g.Min(c => c.Price!.Value), g.Max(c => c.Price!.Value), g.Max(c => c.PriceDate), g.Count(), p.Composite, p.Low, p.High, [])))),
        ];
        return
        [
            .. priced.Select(own => own.Row with { BeatenBy = [.. priced.Where(o => Beats(o.Row, own)).Take(MostNamed).Select(o => o.Row.Text)] })
                .OrderBy(p => p.Currency, StringComparer.Ordinal).ThenBy(p => p.Lowest).ThenBy(p => p.Text, StringComparer.Ordinal),
        ];

        static bool Beats(PricedProduct one, (RankedProduct Product, PricedProduct Row) other) => one.Highest <= other.Row.Lowest && one.Currency == other.Row.Currency
            && other.Product.SurelyBetter.Contains(one.Text, StringComparer.Ordinal);
    }
}
