using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Statistics;
using Cardassay.Collector.Report.Model;
using Cardassay.Trials;

namespace Cardassay.Collector.Report.Building;

/// <summary>Cards that several boards measured alike: whether a difference follows the board or the card.</summary>
internal static class SharedCards
{
    /// <summary>Boards that can still be told apart by shape, and fit a table of 80 columns.</summary>
    private const int BoardsShown = 6;

    /// <summary>Series in the table; the widest spread comes first.</summary>
    private const int RowsShown = 40;

    /// <summary>Kinds shown: what a system disk is ranked by most. The others stand with each card.</summary>
    private static readonly TrialKind[] Shown = [TrialKind.RandomRead, TrialKind.RandomWrite];

    public static ReportTable Build(IReadOnlyList<CardResult> cards)
    {
        Shared[] all =
        [
            .. from card in cards
               from series in card.Metrics
               where series.ByBoard.Count > 1 && Shown.Contains(series.Kind)
               let shared = new Shared(ReportSource.Title(card), series)
               orderby shared.Spread descending, shared.Card, series.Key.Text
               select shared,
        ];
        Shared[] shown = [.. all.Take(RowsShown)];
        string rest = all.Length > shown.Length ? $" The {Wording.Number(shown.Length)} widest of {Wording.Number(all.Length)}." : "";
        return new ReportTable(
            "shared-cards", "The same card on several boards",
            "Median of each board that measured the card alike. Where all cards move together the board differs; where one card alone moves, the card does." + rest,
            [new("Card", false), new("Metric", false), new("Unit", false), new("Median by board", false), new("Spread, %", true)],
            [.. shown.Select(s => (IReadOnlyList<string>)[s.Card, MetricBuilder.Trial(s.Series.Key), s.Series.Unit, s.ByBoard, Figure.Of(s.Spread, 1).Text])])
        {
            Pictures = [.. Shown.Select(kind => Picture(kind, all)).OfType<ReportPicture>()],
        };
    }

    private static BoardsPicture? Picture(TrialKind kind, Shared[] all)
    {
        // One series per card, the one with the most figures, in the order of the tags.
        Shared[] cards =
        [
            .. all.Where(s => s.Series.Kind == kind).GroupBy(s => s.Card, StringComparer.Ordinal).Select(g => g.MaxBy(s => s.Series.N)!)
                .OrderBy(s => s.Card, StringComparer.Ordinal),
        ];
        string[] boards =
        [
            .. cards.SelectMany(c => c.Series.ByBoard).GroupBy(b => b.Name, StringComparer.Ordinal).OrderByDescending(g => g.Count())
                .ThenBy(g => g.Key, StringComparer.Ordinal).Take(BoardsShown).Select(g => g.Key).Order(StringComparer.Ordinal),
        ];
        Shared[] shown = [.. cards.Take(Wording.RowsPictured)];
        if (shown.Length == 0)
        {
            return null;
        }

        Shared widest = cards.MaxBy(c => c.Spread)!;
        string text = $"For each card the median on every board, against the middle of its medians. The widest is {widest.Card}: {widest.ByBoard} {widest.Series.Unit}. The table gives the figures.";
        return new BoardsPicture(
            MetricBuilder.Name(kind) + " by board" + Wording.FirstOf(shown.Length, cards.Length), text, boards,
            [.. shown.Select(c => new BoardsRow(c.Card, [.. boards.Select(c.PercentOn)]))]);
    }

    private sealed record Shared(string Card, MetricSummary Series)
    {
        private readonly double _middle = Summary.MedianOf([.. Series.ByBoard.Select(b => b.Median)]);

        /// <summary>Highest against lowest median, %.</summary>
        public double Spread => 100 * (Series.ByBoard.Max(b => b.Median) / Series.ByBoard.Min(b => b.Median) - 1);

        public string ByBoard => string.Join(
            ", ", Series.ByBoard.Select(b => $"{b.Name} {Figure.Of(b.Median, Figure.DecimalsFor(Series.Median)).Text} (n = {Wording.Number(b.N)})"));

        public double? PercentOn(string board)
        {
            PartSummary part = Series.ByBoard.FirstOrDefault(b => b.Name == board);
            return part.N == 0 ? null : 100 * (part.Median / _middle - 1);
        }
    }
}
