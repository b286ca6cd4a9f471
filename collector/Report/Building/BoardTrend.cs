using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.CardBoard;
using Cardassay.Collector.Analysis.CrossChecks;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Report.Model;
using Cardassay.Trials;

namespace Cardassay.Collector.Report.Building;

/// <summary>Each board over its life: its nights and runs, and how far its nights lie from what its cards lead to expect.</summary>
internal static class BoardTrend
{
    /// <summary>Cards in a night from which on it says something of the board rather than of one card.</summary>
    private const int LeastCards = 2;

    public static ReportTable Build(ReportSource source)
    {
        Dictionary<string, DriftPoint[]> nights = Nights(source);
        var boards = source.Analysis.Cards.SelectMany(card => card.Runs.Where(r => r.Rule != SetAsideRule.DuplicateRun).Select(run => (Card: card.Name, Run: run)))
            .GroupBy(r => r.Run.Board, StringComparer.Ordinal).OrderBy(g => g.Key, StringComparer.Ordinal);
        return new ReportTable(
            "boards-over-time", "Boards over time", Intro(source),
            [
                new("Board", false), new("First and last night", false), new("Runs", true), new("Cards", true), new("Trials", true), new("Invalid", true), new("Its nights, %", false),
            ],
            [.. boards.Select(b => Row(source, b.Key, [.. b], nights.GetValueOrDefault(b.Key, [])))])
        {
            Pictures = Pictures(nights),
        };
    }

    private static string Intro(ReportSource source)
    {
        string[] drifts = [.. source.LaboratoryFindings.Where(f => f.Id is CheckIds.RigDrift or CheckIds.BoardEffect or CheckIds.RigDisagreement).Select(f => f.Text).Distinct(StringComparer.Ordinal)];
        return $"A board's night is the median of what its cards read at random there, each as a share of its own level; a night with one card is left out, as it would say as much of the card. "
            + (drifts.Length > 0 ? string.Join(' ', drifts) : "No finding speaks against a board, which does not show that none changed.");
    }

    private static IReadOnlyList<string> Row(ReportSource source, string board, (string Card, RunUse Run)[] runs, DriftPoint[] nights)
    {
        string spread = nights.Length == 0 ? "none with two cards"
            : $"{Figure.Of(nights.Min(n => n.Percent), 1).Text} to {Figure.Of(nights.Max(n => n.Percent), 1).Text} in {Wording.Count(nights.Length, "night", "nights")}";
        return
        [
            board, $"{Wording.Day(runs.Min(r => r.Run.Night))} to {Wording.Day(runs.Max(r => r.Run.Night))}", Wording.Number(runs.Length), Wording.Number(runs.Select(r => r.Card).Distinct(StringComparer.Ordinal).Count()),
            Wording.Number(runs.Sum(r => source.Run(r.Run.Key)?.TrialCount ?? 0)), Wording.Number(runs.Sum(r => r.Run.SetAside.Count(NightBuilder.IsWorthless))), spread,
        ];
    }

    private static IReadOnlyList<ReportPicture> Pictures(Dictionary<string, DriftPoint[]> nights)
    {
        DriftLine[] lines = [.. nights.Where(n => n.Value.Length > 1).OrderByDescending(n => n.Value.Max(p => p.Percent) - n.Value.Min(p => p.Percent)).Take(DriftPicture.MostLines).Select(n => new DriftLine(n.Key, n.Value))];
        return lines.Length == 0 ? [] :
        [
            new DriftPicture("Boards night by night", "Each board's nights as % of its own level: " + string.Join("; ", lines.Select(l =>
                $"{l.Name} {Figure.Of(l.Points.Min(p => p.Percent), 1).Text} to {Figure.Of(l.Points.Max(p => p.Percent), 1).Text} % in {Wording.Number(l.Points.Count)} nights")) + ".", lines)
            {
                Unit = "% of the board's own level",
            },
        ];
    }

    /// <summary>By board: of each night with enough cards, the middle of what the model leaves of random reads.</summary>
    private static Dictionary<string, DriftPoint[]> Nights(ReportSource source)
    {
        var left = new Dictionary<string, Dictionary<DateOnly, List<double>>>(StringComparer.Ordinal);
        foreach (CardBoardFit fit in (source.Analysis.Fits?.All ?? []).Where(f => f.Key.Kind == TrialKind.RandomRead && (source.Ranking?.Keys ?? []).Any(k => k.StateAside() == f.Key)))
        {
            for (int k = 0; k < fit.Series.Count; k++)
            {
                foreach ((RunFigure figure, double residual) in fit.Series[k].Figures.Zip(fit.ResidualsOf(k)))
                {
                    Dictionary<DateOnly, List<double>> board = left.TryGetValue(figure.Board, out var known) ? known : left[figure.Board] = [];
                    (board.TryGetValue(figure.Night, out List<double>? night) ? night : board[figure.Night] = []).Add(residual);
                }
            }
        }

        return left.ToDictionary(
            b => b.Key,
            b => b.Value.Where(n => n.Value.Count >= LeastCards).OrderBy(n => n.Key)
                .Select(n => new DriftPoint(n.Key, 100 * Math.Exp(Analysis.Statistics.Summary.MedianOf([.. n.Value])))).ToArray(),
            StringComparer.Ordinal);
    }
}
