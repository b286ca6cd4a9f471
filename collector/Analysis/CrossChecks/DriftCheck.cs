using Cardassay.Collector.Analysis.CardBoard;
using Cardassay.Collector.Analysis.Cards;
using Cardassay.Collector.Analysis.Statistics;
using Cardassay.Identity;
using Cardassay.Trials;
using static System.FormattableString;

namespace Cardassay.Collector.Analysis.CrossChecks;

/// <summary>
/// Wear and drift: a slope per card in the card + board model (METHOD rule 10), so that moving between boards neither hides one nor makes one. t test, Holm
/// over all cards and metrics.
/// </summary>
internal static class DriftCheck
{
    /// <summary>Fewest nights.</summary>
    public const int LeastNights = 5;

    /// <summary>Least total drift over the nights seen that is worth a finding: 3 %.</summary>
    public const double LeastPercent = 3;

    public static IEnumerable<RunFinding> Of(FitResiduals[] fits, double correlation, IReadOnlyDictionary<string, CardWork> works)
    {
        // Neighbouring nights that go together hold less than they seem to: (1 + r) / (1 - r) times the variance for the same number.
        double inflation = (1 + correlation) / (1 - correlation);
        (FitResiduals Fit, int Place, double Slope, double P)[] all =
        [
            .. fits.SelectMany(f =>
            {
                (double, double)?[] terms = f.Fit.Terms((k, term) => Fill(term, f.Fit.Series[k].Figures, n => n.DayNumber), inflation);
                return Enumerable.Range(0, f.Residuals.Length).Where(k => f.Fit.Series[k].Nights >= LeastNights).Select(k => terms[k] is (double slope, double p) ? (f, k, slope, p) : (f, k, 0, 1.0));
            }),
        ];
        double[] adjusted = Holm.Adjust([.. all.Select(x => x.P)]);
        return all.Select((x, i) => (Test: x, P: adjusted[i])).Where(x => x.P <= RunChecks.Alpha && Total(x.Test.Fit, x.Test.Place, x.Test.Slope) >= LeastPercent)
            .Select(x => Finding(x.Test.Fit, x.Test.Place, x.Test.Slope, x.P, works));
    }

    private static bool Fill(Span<double> term, RunFigure[] figures, Func<DateOnly, double> value)
    {
        for (int i = 0; i < term.Length; i++)
        {
            term[i] = value(figures[i].Night);
        }

        return true;
    }

    private static double Total(FitResiduals fit, int place, double slope)
    {
        RunFigure[] figures = fit.Fit.Series[place].Figures;
        return 100 * Math.Abs(Math.Exp(slope * (figures[^1].Night.DayNumber - figures[0].Night.DayNumber)) - 1);
    }

    private static RunFinding Finding(FitResiduals fit, int place, double slope, double p, IReadOnlyDictionary<string, CardWork> works)
    {
        SeriesRuns series = fit.Fit.Series[place];
        (double others, int cards) = fit.OthersDrift(place);
        Blame blame = cards < 2 ? Blame.Unknown : others * slope > 0 && Math.Abs(others) >= Math.Abs(slope) / 2 ? Blame.Board : Blame.Card;
        string boards = string.Join(" and ", series.Boards);
        string whose = blame switch
        {
            Blame.Card => Invariant($"The {cards} other cards on the same boards do not: it is the card's own."),
            Blame.Board => Invariant($"So do the {cards} other cards on {boards} ({100 * others:+0.00;-0.00} % a night in the middle): it is the boards', or the rig's."),
            _ => "No two other cards were on its boards, so whether card or board drifts cannot be told.",
        };
        CardFinding finding = CardChecks.Finding(
            CheckIds.Drift, FindingSeverity.Note,
            Invariant($"{series.Key.TrialText} {(slope < 0 ? "falls" : "rises")} by {100 * Math.Abs(Math.Exp(slope) - 1):0.00} % a night over {series.Nights} nights on {boards}{PerWritten(fit.Fit, place, works)}. {whose}"),
            "slope in the card + board model, t test, Holm over all cards", [series.Figures[0].Record, series.Figures[^1].Record],
            ("p over all cards", Invariant($"{p:0.000000}")), ("metric", TrialKinds.NameOf(series.Key.Kind)), ("board", boards));
        finding = blame == Blame.Card ? finding : finding with { Finding = finding.Finding with { Settles = $"Run the reference card on {boards} every week." } };
        return new RunFinding(CheckIds.Drift, fit.Fit, place, blame, boards, finding, null, []);
    }

    private static string PerWritten(CardBoardFit fit, int place, IReadOnlyDictionary<string, CardWork> works)
    {
        SortedDictionary<DateOnly, long>? written = works.GetValueOrDefault(fit.Series[place].Card)?.Figures.OdometerByNight;
        return written is not null && fit.Series[place].Figures.All(f => written.ContainsKey(f.Night)) && fit.Terms((k, term) => k == place && Fill(term, fit.Series[k].Figures, n => written[n] / 1e11))[place] is (double slope, _)
            ? Invariant($" ({100 * slope:+0.00;-0.00} % per 100 GB written)")
            : "";
    }
}
