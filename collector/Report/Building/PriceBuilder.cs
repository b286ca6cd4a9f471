using System.Globalization;
using Cardassay.Collector.Analysis.Ranking;
using Cardassay.Collector.Report.Model;
using Cardassay.Identity;

namespace Cardassay.Collector.Report.Building;

/// <summary>Price against performance, in the currency most prices have.</summary>
internal static class PriceBuilder
{
    /// <summary>Better cards named beside one that is not on the front.</summary>
    private const int BeatersNamed = 6;

    public static PriceSection? Build(ReportSource source, IReadOnlyList<ReportCard> cards)
    {
        if (source.Ranking is not { Prices.Count: > 0 } ranking)
        {
            return null;
        }

        string[] convicted =
        [
            .. source.InOrder().Where(c => c.Claim?.Price is not null && source.Ranked(c.Name) is not null && source.Standing(c.Name)?.Verdict.Kind == VerdictKind.NotAsClaimed)
                .Select(ReportSource.Title),
        ];

        Dictionary<string, ReportCard> byName = [];
        foreach ((Analysis.CardResult card, ReportCard printed) in source.InOrder().Zip(cards))
        {
            byName[card.Name] = printed;
        }

        string currency = ranking.Prices.GroupBy(p => p.Currency).OrderByDescending(g => g.Count()).ThenBy(g => g.Key, StringComparer.Ordinal).First().Key;
        PricePoint[] points =
        [
            .. ranking.Prices.Where(p => p.Currency == currency && byName.ContainsKey(p.Name)).OrderBy(p => p.Price).ThenBy(p => p.Name, StringComparer.Ordinal)
                .Select(p => Point(p, source.Ranked(p.Name)!, byName[p.Name], byName)),
        ];
        int others = ranking.Prices.Count - points.Length;
        string[] remarks =
        [
            others == 0 ? "" : $"{Wording.Count(others, "card is", "cards are")} priced in another currency and not compared.",
            convicted.Length == 0 ? "" : $"Left out because not as claimed: {string.Join(", ", convicted)}.",
        ];
        return new PriceSection(currency, points, string.Join(' ', remarks.Where(r => r.Length > 0)));
    }

    private static PricePoint Point(PricedCard priced, RankedCard ranked, ReportCard card, Dictionary<string, ReportCard> byName) => new(
        card.Title,
        card.Product,
        Figure.Of((double)priced.Price, 2),
        priced.PricePerGigabyte is decimal perGigabyte ? Figure.Of((double)perGigabyte, 3) : null,
        priced.PriceDate is { } day ? Wording.Day(day) : "date unknown",
        CardBuilder.Composite(ranked),
        priced.OnFront,
        string.Join(", ", priced.BeatenBy.Take(BeatersNamed).Select(name => byName.TryGetValue(name, out ReportCard? better) ? better.Title : name))
            + (priced.BeatenBy.Count > BeatersNamed ? $" and {Wording.Number(priced.BeatenBy.Count - BeatersNamed)} more" : ""));
}
