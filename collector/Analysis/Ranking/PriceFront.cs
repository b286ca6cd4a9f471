using Cardassay.Identity;

namespace Cardassay.Collector.Analysis.Ranking;

/// <summary>Price against performance with the intervals: a card is beaten when another costs no more and is surely better.</summary>
internal static class PriceFront
{
    private const int MostNamed = 5;

    /// <summary>Priced cards by currency, price, then name.</summary>
    public static IReadOnlyList<PricedCard> Of(IReadOnlyList<RankedCard> cards, IReadOnlyDictionary<string, Claim?> claims)
    {
        var result = new List<PricedCard>();
        var priced = cards.Select(c => (Card: c, Claim: claims[c.Name])).Where(x => x.Claim is { Price: not null, Currency: not null });
        foreach (var currency in priced.GroupBy(x => x.Claim!.Currency!, StringComparer.Ordinal).OrderBy(g => g.Key, StringComparer.Ordinal))
        {
            (RankedCard Card, Claim Claim)[] byPrice = [.. currency.Select(x => (x.Card, x.Claim!)).OrderBy(x => x.Item2.Price).ThenBy(x => x.Card.Name, StringComparer.Ordinal)];
            for (int i = 0; i < byPrice.Length; i++)
            {
                (RankedCard card, Claim claim) = byPrice[i];
                var beatenBy = new List<string>();
                for (int j = 0; j < byPrice.Length && byPrice[j].Claim.Price <= claim.Price && beatenBy.Count < MostNamed; j++)
                {
                    RankedCard other = byPrice[j].Card;
                    if (!other.IsProvisional && Surely(other, card))
                    {
                        beatenBy.Add(other.Name);
                    }
                }

                decimal? perGigabyte = claim.LabelGigabytes is > 0 ? claim.Price / claim.LabelGigabytes : null;
                result.Add(new PricedCard(
                    card.Name, claim.Price!.Value, claim.Currency!, claim.PriceDate, perGigabyte,
                    card.Composite, card.Low, card.High, beatenBy, card.IsProvisional));
            }
        }

        return result;
    }

    // The same order as the ranks: a failed floor counts before the composite, an undecided one leaves it open.
    private static bool Surely(RankedCard better, RankedCard worse) => (better.Floors, worse.Floors) switch
    {
        (FloorState.Pass, FloorState.Fail) => true,
        (FloorState.Pass, _) or (FloorState.Fail, FloorState.Fail) or (FloorState.Undecided, FloorState.Fail) => better.Low > worse.High,
        _ => false,
    };
}
