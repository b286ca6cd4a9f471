using Cardassay.Collector.Analysis.CrossChecks;
using Cardassay.Collector.Analysis.Statistics;
using Cardassay.Identity;

namespace Cardassay.Collector.Analysis.Ranking;

/// <summary>
/// Ranks claimed products. The interval of a product spans those of its specimens, so what is told apart holds for every specimen
/// tested; it says nothing of specimens not tested, which is why their number is always shown.
/// </summary>
internal static class ProductRanking
{
    public static IReadOnlyList<RankedProduct> Of(IReadOnlyList<RankedCard> cards, IReadOnlyDictionary<string, Claim?> claims)
    {
        List<(RankedProduct Product, FloorState State)> all =
        [
            .. cards.Where(c => claims[c.Name]?.Product is not null).GroupBy(c => ProductKey.Of(claims[c.Name]!)).Select(g => (Envelope(g.Key, [.. g]))).Select(p => (p, p.Floors)),
        ];
        RankedProduct[] firm = [.. all.Where(p => !p.Product.IsProvisional).Select(p => p.Product)];
        RankedProduct[] provisional = [.. all.Where(p => p.Product.IsProvisional).Select(p => p.Product)];
        RankInterval[] ranks = RankIntervals.Grouped(FloorRanks.Of(Bounds(firm)));
        (int Best, int Worst)[] among = FloorRanks.Among(Bounds(firm), Bounds(provisional));
        return
        [
            .. firm.Select((p, i) => p with { Best = ranks[i].Best, Worst = ranks[i].Worst, Group = ranks[i].Group })
                .Concat(provisional.Select((p, i) => p with { Best = among[i].Best, Worst = among[i].Worst }))
                .OrderBy(p => p.Best).ThenBy(p => p.Worst).ThenBy(p => p.IsProvisional).ThenByDescending(p => p.Composite).ThenBy(p => p.Text, StringComparer.Ordinal),
        ];
    }

    private static (double, double, FloorState)[] Bounds(RankedProduct[] products) => [.. products.Select(p => (p.Low, p.High, p.Floors))];

    private static RankedProduct Envelope(ProductKey key, RankedCard[] specimens)
    {
        bool provisional = specimens.All(c => c.IsProvisional);
        RankedCard[] counted = [.. specimens.Where(c => provisional || !c.IsProvisional)];
        return new RankedProduct
        {
            Maker = key.Maker,
            Product = key.Product,
            LabelGigabytes = key.LabelGigabytes,
            Text = key.Text,
            Specimens = [.. specimens.Select(c => c.Name).Order(StringComparer.Ordinal)],
            Composite = Summary.MedianOf([.. counted.Select(c => c.Composite)]),
            Low = counted.Min(c => c.Low),
            High = counted.Max(c => c.High),
            SpecimenSpread = counted.Length < 2 ? null : counted.Max(c => c.Composite) / counted.Min(c => c.Composite) - 1,
            IsProvisional = provisional,
            Floors = counted.Any(c => c.Floors == FloorState.Fail) ? FloorState.Fail
                : counted.Any(c => c.Floors == FloorState.Undecided) ? FloorState.Undecided
                : FloorState.Pass,
        };
    }
}
