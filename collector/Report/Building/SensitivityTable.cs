using Cardassay.Collector.Analysis.Ranking;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Report.Building;

/// <summary>How the ranking depends on the weights of the profile.</summary>
internal static class SensitivityTable
{
    public static ReportTable Build(ReportSource source)
    {
        RankingTable? ranking = source.Ranking;
        string tau = ranking?.SensitivityTau is double value ? $" In 95 % of 1,000 drawn sets of weights the order agrees with Kendall tau-b of at least {Figure.Of(value, 2).Text}." : "";
        RankedCard[] cards = ranking is { Cards.Count: > 1 } ? [.. ranking.Cards] : [];
        return new ReportTable(
            "sensitivity", "Sensitivity to the weights", "Ranks each card would hold if the profile weighed the metrics differently." + tau,
            [new("Card", false), new("Rank by the figures", false), new("Rank under drawn weights", false), new("Performance (1 = reference)", true)],
            [.. cards.Select(c => (IReadOnlyList<string>)
                [
                    Comparisons.Title(source, c.Name), Wording.Rank(new ReportRank(c.Best, c.Worst, cards.Length, c.Group, c.IsProvisional)),
                    Drawn(c, cards.Length), CardBuilder.Composite(c).Line,
                ])])
        {
            Pictures = cards.Length == 0 ? [] : [Picture(source, cards)],
        };
    }

    private static WeightsPicture Picture(ReportSource source, RankedCard[] cards)
    {
        RankedCard[] shown = [.. cards.Take(Wording.RowsPictured)];
        RankedCard widest = cards.Where(c => c.SensitivityBest > 0).DefaultIfEmpty(cards[0]).MaxBy(c => c.SensitivityWorst - c.SensitivityBest)!;
        string text = $"For each card the ranks its figures allow, and the ranks of its level under 1,000 drawn sets of weights. The widest is {Comparisons.Title(source, widest.Name)}, "
            + $"{Drawn(widest, cards.Length)} of {Wording.Number(cards.Length)}. The table gives every card.";
        return new WeightsPicture(
            "Ranks under other weights" + Wording.FirstOf(shown.Length, cards.Length), text, cards.Length,
            [.. shown.Select(c => new WeightsRow(Comparisons.Title(source, c.Name), c.Best, c.Worst, c.SensitivityBest, c.SensitivityWorst))]);
    }

    private static string Drawn(RankedCard card, int of) => new ReportRank(card.SensitivityBest, card.SensitivityWorst, of, 0, false).Text;
}
