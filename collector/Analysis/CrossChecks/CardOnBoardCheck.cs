using Cardassay.Collector.Analysis.CardBoard;
using Cardassay.Collector.Analysis.Statistics;
using Cardassay.Identity;
using static System.FormattableString;

namespace Cardassay.Collector.Analysis.CrossChecks;

/// <summary>
/// A card that one board measures otherwise than the model of card and board says: a poor contact, a bus mode that only this pair falls back to. Needs at
/// least two nights there and elsewhere. t test, Holm over all cards and metrics.
/// </summary>
internal static class CardOnBoardCheck
{
    private const int LeastNights = 2;
    private const double Least = 0.03;

    public static IEnumerable<RunFinding> Of(FitResiduals[] fits)
    {
        var all = new List<(FitResiduals Fit, int Place, string Board, double Log, double P)>(2 * fits.Sum(f => f.Fit.Fit.Moving.Length)); // most are on two
        foreach (FitResiduals fit in fits.Where(f => f.Fit.Boards.Count > 1))
        {
            for (int b = 0; b < fit.Fit.Boards.Count; b++)
            {
                int board = b;
                (double, double)?[] terms = fit.Fit.Terms((k, term) => IsOn(fit.Fit, k, board, term));
                foreach (int k in fit.Fit.Fit.Moving)
                {
                    int here = fit.Fit.Fit.Count(k, b);
                    if (here >= LeastNights && fit.Fit.Fit.N[k] - here >= LeastNights && terms[k] is (double log, double p))
                    {
                        all.Add((fit, k, fit.Fit.Boards[b], log, p));
                    }
                }
            }
        }

        double[] adjusted = Holm.Adjust([.. all.Select(x => x.P)]);
        return all.Select((x, i) => (Test: x, P: adjusted[i])).Where(x => x.P <= RunChecks.Alpha && Math.Abs(x.Test.Log) >= Least)
            .GroupBy(x => (x.Test.Fit, x.Test.Place)).Select(g => g.MinBy(x => x.P)).Select(x => Finding(x.Test.Fit, x.Test.Place, x.Test.Board, x.Test.Log, x.P));
    }

    /// <summary>1 for the figures of a card on the board, 0 for the others; false where all are the one or the other.</summary>
    private static bool IsOn(CardBoardFit fit, int card, int board, Span<double> term)
    {
        if (fit.Fit.Count(card, board) is 0 || fit.Fit.Count(card, board) == term.Length)
        {
            return false;
        }

        ReadOnlySpan<AdditiveUnit> units = fit.UnitsOf(card);
        for (int i = 0; i < term.Length; i++)
        {
            term[i] = units[i].Board == board ? 1 : 0;
        }

        return true;
    }

    private static RunFinding Finding(FitResiduals fit, int place, string board, double log, double p)
    {
        SeriesRuns series = fit.Fit.Series[place];
        double percent = 100 * (Math.Exp(log) - 1);
        CardFinding finding = CardChecks.Finding(
            CheckIds.RigDisagreement, FindingSeverity.Note,
            Invariant($"{board} measures {series.Key.TrialText} of this card {Math.Abs(percent):0.0} % {(percent < 0 ? "slower" : "faster")} than its other boards and the other cards explain: it is this card on this board, a contact or a bus mode, not the card alone nor the board alone."),
            "card by board term in the card + board model, t test, Holm over all cards",
            [.. series.Figures.Where(f => f.Board == board).Select(f => f.Record)], ("board", board), ("p over all cards", Invariant($"{p:0.000000}")));
        finding = finding with { Finding = finding.Finding with { Settles = $"Clean its contacts and run it on {board} again." } };
        return new RunFinding(CheckIds.RigDisagreement, fit.Fit, place, Blame.Card, board, finding, null, []);
    }
}
