using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Statistics;

namespace Cardassay.Collector.Analysis.Cards;

/// <summary>Runs of one card and key on several boards, as logarithms of their medians.</summary>
/// <param name="Key">Key, with the card's state left aside: it does not matter when a card is compared with itself.</param>
/// <param name="Runs">Board, record and logarithm of the median of each run, in order of measurement.</param>
/// <param name="Level">Mean of the means on the boards.</param>
/// <param name="Cells">What each board says, by board name.</param>
internal sealed record BoardRuns(
    ComparabilityKey Key, IReadOnlyList<(string Board, RecordKey Record, double Log)> Runs, double Level, IReadOnlyList<BoardCell> Cells)
{
    public static BoardRuns Of(MetricSummary metric)
    {
        (string Board, RecordKey Record, double Log)[] runs =
        [
            .. metric.Values.Where(v => v.Value > 0).GroupBy(v => v.Run).Select(g =>
                (g.First().Board, g.First().Record, Math.Log(Summary.MedianOf([.. g.Select(v => v.Value)])))),
        ];
        BoardCell[] cells =
        [
            .. runs.GroupBy(r => r.Board, StringComparer.Ordinal).OrderBy(g => g.Key, StringComparer.Ordinal).Select(g =>
            {
                double[] here = [.. g.Select(r => r.Log)], there = [.. runs.Where(r => r.Board != g.Key).Select(r => r.Log)];
                double larger = here.Sum(h => there.Sum(t => h > t ? 1 : h == t ? 0.5 : 0));
                return new BoardCell(g.Key, Summary.MedianOf(here), Summary.MeanOf(here), here.Length, there.Length, larger);
            }),
        ];
        ComparabilityKey key = metric.Key with { Context = metric.Key.Context with { State = Identity.CardCondition.Unknown } };
        return new BoardRuns(key, runs, cells.Length == 0 ? 0 : cells.Average(c => c.Mean), cells);
    }
}
