using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.CardBoard;
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
    public void Of_EveryPair_RanksAreWhatTheModelTells(int seed, int runsPerCard)
    {
        AnalysisResult analysis = Analyser.Run(
            new SyntheticLaboratory { Seed = seed, Cards = 30, Boards = 3, RunsPerCard = runsPerCard, RunsPerNight = 1, Specimens = 0.2 }.Build(), UseProfile.SystemDisk);
        var kind = analysis.Cards.SelectMany(c => c.Metrics.Where(m => m.N > 0).Select(m => (Card: c, Series: m))).GroupBy(m => m.Series.Key).MaxBy(g => g.Count())!;
        (CardResult Card, MetricSummary Series)[] cards = [.. kind];
        var ranks = new MetricRanks(analysis, cards);
        CardBoardFit fit = analysis.Fits!.Find(cards[0].Card.Name, kind.Key)!.Value.Fit;
        int[] places = [.. cards.Select(c => analysis.Fits!.Find(c.Card.Name, kind.Key)!.Value.Place)];
        bool apart = false;
        for (int i = 0; i < cards.Length; i++)
        {
            // The rule in its own words, one pair after the other.
            int better = places.Count(p => IsSurelyFaster(p, places[i])), worse = places.Count(p => IsSurelyFaster(places[i], p));
            apart |= better > 0 && worse > 0;
            ReportRank rank = ranks.Of(cards[i].Card, cards[i].Series)!;
            Assert.Equal((1 + better, cards.Length - worse, cards.Length, false), (rank.Best, rank.Worst, rank.Of, rank.Provisional));
        }

        Assert.True(apart);

        bool IsSurelyFaster(int one, int other) => one != other
            && fit.Fit.CardEffects[one] - fit.Fit.CardEffects[other] > StudentizedRange.For(cards.Length).At(fit.DifferenceDf(one, other)) * fit.DifferenceError(one, other);
    }
}
