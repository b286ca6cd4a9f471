using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Statistics;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Report.Building;

/// <summary>
/// Ranks in one metric alone, by the rule of the ranking (METHOD rule 8): simultaneous intervals, provisional below the least n.
/// Cards are compared only under one comparability key, the one most cards have.
/// </summary>
internal sealed class MetricRanks
{
    private readonly Dictionary<(string Card, ComparabilityKey Key), ReportRank> _ranks = [];

    public MetricRanks(IReadOnlyList<(CardResult Card, MetricSummary Series)> leading)
    {
        foreach (var kind in leading.GroupBy(l => l.Series.Kind))
        {
            Rank([.. kind.GroupBy(l => l.Series.Key).OrderByDescending(g => g.Count()).ThenBy(g => g.Key.Text, StringComparer.Ordinal).First()]);
        }
    }

    /// <summary>The rank of that card under that key; null where it was not compared.</summary>
    public ReportRank? Of(CardResult card, MetricSummary series) => _ranks.GetValueOrDefault((card.Name, series.Key));

    private void Rank((CardResult Card, MetricSummary Series)[] cards)
    {
        if (cards.Length < 2)
        {
            return;
        }

        int firmCount = RankIntervals.FirmCards(cards.Select(c => c.Series.N));
        int least = RankIntervals.LeastRuns(firmCount);
        double level = RankIntervals.LevelFor(firmCount);
        var firm = cards.Where(c => firmCount > 0 && c.Series.N >= least).ToArray();
        var others = cards.Where(c => firmCount == 0 || c.Series.N < least).ToArray();
        MedianInterval[] intervals = [.. firm.Select(c => Interval(c.Series, level))];
        RankInterval[] ranks = RankIntervals.Of([.. intervals.Select(i => (i.Low, i.High))]);
        for (int i = 0; i < firm.Length; i++)
        {
            _ranks[(firm[i].Card.Name, firm[i].Series.Key)] = new ReportRank(ranks[i].Best, ranks[i].Worst, cards.Length, ranks[i].Group, Provisional: false);
        }

        // Outside the joint statement: where the range of a provisional card lies among all the others. It is neither above nor below itself.
        MedianInterval[] ranges = [.. others.Select(o => Interval(o.Series, level))];
        double[] lows = [.. intervals.Concat(ranges).Select(r => r.Low).Order()], highs = [.. intervals.Concat(ranges).Select(r => r.High).Order()];
        for (int i = 0; i < others.Length; i++)
        {
            int better = lows.Length - RankIntervals.CountUpTo(lows, ranges[i].High), worse = RankIntervals.CountBelow(highs, ranges[i].Low);
            _ranks[(others[i].Card.Name, others[i].Series.Key)] = new ReportRank(1 + better, cards.Length - worse, cards.Length, 0, Provisional: true);
        }
    }

    private static MedianInterval Interval(MetricSummary series, double level) => MedianInterval.Of([.. series.Values.Select(v => v.Value)], level);
}
