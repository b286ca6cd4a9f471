using Cardassay.Collector.Analysis.CardBoard;

namespace Cardassay.Collector.Analysis.Ranking;

/// <summary>Which run of which card would link parts that nothing links yet.</summary>
internal static class LinkingRuns
{
    /// <summary>
    /// For each part but the largest a card of the largest part on the busiest board of it, and back: the card whose own figures scatter least, because
    /// what it shows of the board is as certain as itself.
    /// </summary>
    public static IReadOnlyList<LinkingRun> Of(RankOrder order)
    {
        if (order.PartCount < 2)
        {
            return [];
        }

        CardBoardFit fit = order.Metrics[0].Fit;
        (int Part, int[] Cards)[] parts =
        [
            .. Enumerable.Range(0, order.Cards.Count).Where(k => order.Parts[k] >= 0).GroupBy(k => order.Parts[k]).Select(g => (g.Key, g.ToArray()))
                .OrderByDescending(p => p.Item2.Length).ThenBy(p => p.Key),
        ];
        int[] largest = parts[0].Cards;
        return
        [
            .. parts.Skip(1).Select(p => p.Cards).Select(other => largest.Length >= other.Length && Steadiest(largest) is var card && BusiestBoard(other) is { } board
                ? new LinkingRun(order.Cards[card].Name, board)
                : new LinkingRun(order.Cards[Steadiest(other)].Name, BusiestBoard(largest))),
        ];

        int Steadiest(int[] cards) => cards.OrderBy(k => double.IsNaN(Variance(k)) ? double.MaxValue : Variance(k)).ThenBy(k => order.Cards[k].Name, StringComparer.Ordinal).First();

        double Variance(int card) => fit.Variances[order.Cards[card].Places![0]];

        string BusiestBoard(int[] cards) => cards.SelectMany(k => fit.Series[order.Cards[k].Places![0]].Figures).GroupBy(f => f.Board)
            .OrderByDescending(g => g.Count()).ThenBy(g => g.Key, StringComparer.Ordinal).First().Key;
    }
}
