using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.CardBoard;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Ranking;
using Cardassay.Collector.Analysis.Statistics;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Report.Building;

/// <summary>
/// Ranks in one metric alone, by the rule of the ranking (METHOD rule 8) and from the same model. Cards are compared only under one comparability key,
/// the one most cards have.
/// </summary>
internal sealed class MetricRanks
{
    private readonly Dictionary<(string Card, ComparabilityKey Key), ReportRank> _ranks = [];

    public MetricRanks(AnalysisResult analysis, IReadOnlyList<(CardResult Card, MetricSummary Series)> leading)
    {
        foreach (var kind in leading.GroupBy(l => l.Series.Kind))
        {
            var cards = kind.GroupBy(l => l.Series.Key).OrderByDescending(g => g.Count()).ThenBy(g => g.Key.Text, StringComparer.Ordinal).First();
            Rank(analysis, cards.Key, [.. cards.Select(c => c.Card.Name)]);
        }
    }

    /// <summary>The rank of that card under that key; null where it was not compared.</summary>
    public ReportRank? Of(CardResult card, MetricSummary series) => _ranks.GetValueOrDefault((card.Name, series.Key));

    private void Rank(AnalysisResult analysis, ComparabilityKey key, string[] cards)
    {
        (CardBoardFit Fit, int Place)[] found = [.. cards.Select(name => analysis.Fits?.Find(name, key)).OfType<(CardBoardFit, int)>()];
        if (cards.Length < 2 || found.Length < cards.Length)
        {
            return;
        }

        CardBoardFit fit = found[0].Fit;
        var order = new RankOrder([new RankMetric(fit, 1, 0, null)], [.. found.Select((f, i) => new Contender(cards[i], [f.Place], [fit.Fit.CardEffects[f.Place]], FloorState.Pass))]);
        RankInterval[] ranks = RankInterval.Grouped(order.Ranks());
        for (int i = 0; i < cards.Length; i++)
        {
            SeriesRuns series = fit.Series[found[i].Place];
            _ranks[(cards[i], key)] = new ReportRank(ranks[i].Best, ranks[i].Worst, cards.Length, ranks[i].Group, RankedCards.IsProvisional([series]));
        }
    }
}
