using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Analysis.Statistics;
using Cardassay.Collector.Report.Building;
using Cardassay.Collector.Report.Model;
using Cardassay.Fixtures;

namespace Cardassay.Collector.Tests.Report;

public sealed class MetricRanksTests
{
    [Theory]
    [InlineData(1, 3)]
    [InlineData(2, 12)]
    public void Of_ProvisionalCards_AreCountedAgainstEachOther(int seed, int runsPerCard)
    {
        AnalysisResult analysis = Analyser.Run(
            new SyntheticLaboratory { Seed = seed, Cards = 30, Boards = 3, RunsPerCard = runsPerCard, RunsPerNight = 1, Specimens = 0.2 }.Build(), UseProfile.SystemDisk);
        var kind = analysis.Cards.SelectMany(c => c.Metrics.Where(m => m.N > 0).Select(m => (Card: c, Series: m))).GroupBy(m => m.Series.Key).MaxBy(g => g.Count())!;

        // Every third card was measured seldom, so that firm and provisional ranks stand beside each other.
        (CardResult Card, MetricSummary Series)[] cards = [.. kind.Select((m, i) => i % 3 == 0 ? (m.Card, m.Series with { Values = [.. m.Series.Values.Take(2)] }) : m)];
        var ranks = new MetricRanks(cards);
        int firm = RankIntervals.FirmCards(cards.Select(c => c.Series.N));
        double level = RankIntervals.LevelFor(firm);
        (CardResult Card, MetricSummary Series)[] provisional = [.. cards.Where(c => firm == 0 || c.Series.N < RankIntervals.LeastRuns(firm))];
        Assert.NotEmpty(provisional);
        Assert.Equal(runsPerCard == 3, firm == 0);
        bool apart = false;
        foreach ((CardResult card, MetricSummary series) in provisional)
        {
            // The rule in its own words, one pair after the other.
            MedianInterval own = Of(series);
            MedianInterval[] rest = [.. cards.Where(c => c.Card.Name != card.Name).Select(c => Of(c.Series))];
            int better = rest.Count(r => r.Low > own.High), worse = rest.Count(r => r.High < own.Low);
            apart |= better > 0 && worse > 0;
            Assert.Equal(new ReportRank(1 + better, cards.Length - worse, cards.Length, 0, Provisional: true), ranks.Of(card, series));
        }

        Assert.True(apart);

        MedianInterval Of(MetricSummary series) => MedianInterval.Of([.. series.Values.Select(v => v.Value)], level);
    }
}
