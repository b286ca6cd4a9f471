using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Statistics;

namespace Cardassay.Collector.Analysis.Cards;

/// <summary>Runs of one card and key on several boards, as logarithms of their medians.</summary>
/// <param name="Key">Key, with the card's state left aside: it does not matter when a card is compared with itself.</param>
/// <param name="Runs">Board and record of each run, in order of measurement.</param>
/// <param name="Cells">What each board says, by board name.</param>
internal sealed record BoardRuns(
    ComparabilityKey Key, IReadOnlyList<(string Board, RecordKey Record)> Runs, IReadOnlyList<BoardCell> Cells)
{
    public static BoardRuns Of(MetricSummary metric)
    {
        (string Board, RecordKey Record, double Log)[] runs =
        [
            .. metric.Values.Where(v => v.Value > 0).GroupBy(v => v.Run).Select(g =>
                (g.First().Board, g.First().Record, Math.Log(Summary.MedianOf([.. g.Select(v => v.Value)])))),
        ];
        IGrouping<string, double>[] boards = [.. runs.GroupBy(r => r.Board, r => r.Log, StringComparer.Ordinal).OrderBy(g => g.Key, StringComparer.Ordinal)];
        double level = boards.Length == 0 ? 0 : boards.Average(b => b.Average());
        BoardCell[] cells =
        [
            .. boards.Select(board =>
            {
                double[] here = [.. board], there = [.. runs.Where(r => r.Board != board.Key).Select(r => r.Log)];
                double larger = here.Sum(h => there.Sum(t => h > t ? 1 : h == t ? 0.5 : 0));
                return new BoardCell(
                    board.Key, Summary.MedianOf(here), here.Length, there.Length, larger, here.Sum(h => h - level), here.Sum(h => (h - level) * (h - level)));
            }),
        ];
        ComparabilityKey key = metric.Key with { Context = metric.Key.Context with { State = Identity.CardCondition.Unknown } };
        return new BoardRuns(key, [.. runs.Select(r => (r.Board, r.Record))], cells);
    }
}
