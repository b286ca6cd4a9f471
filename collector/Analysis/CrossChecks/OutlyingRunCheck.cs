using Cardassay.Collector.Analysis.CardBoard;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Statistics;
using Cardassay.Identity;
using Cardassay.Trials;
using static System.FormattableString;

namespace Cardassay.Collector.Analysis.CrossChecks;

/// <summary>
/// Runs far from the others of their card: generalised ESD on the standardised residuals of the card + board model, up to a quarter of the runs, from eight
/// on, with no other test in front (METHOD rule 11). The level is shared out over all cards and metrics, and what is as far out as other cards' runs now and
/// then are is none: tails of a laboratory are its own.
/// </summary>
internal static class OutlyingRunCheck
{
    private const int LeastRuns = 8;

    public static IEnumerable<RunFinding> Of(FitResiduals[] fits)
    {
        (FitResiduals Fit, int Place)[] all = [.. fits.SelectMany(f => Enumerable.Range(0, f.Residuals.Length).Where(k => f.Residuals[k].Length >= LeastRuns).Select(k => (f, k)))];
        var criticals = new Dictionary<int, double>();
        var tailsBeside = new Dictionary<string, LaboratoryTails?>(StringComparer.Ordinal);
        var runs = new Lazy<double[]>(() => Sorted(WithoutBoardsNights(all)));
        foreach ((FitResiduals fit, int place) in all)
        {
            double[] residuals = fit.Residuals[place], robust = fit.Robust[place];
            int[] flagged = Outliers.ByEsd(residuals, residuals.Length / 4, CriticalOf);
            if (flagged.Length == 0)
            {
                continue;
            }

            LaboratoryTails? tails = TailsBeside(fit.Fit.Series[place].Card);
            int[] outliers = [.. flagged.Where(i => tails is null || tails.Value.Beyond(robust[i]) * residuals.Length * all.Length <= RunChecks.Alpha).Order()];
            if (outliers.Length > 0)
            {
                yield return Finding(fit, place, outliers);
            }
        }

        LaboratoryTails? TailsBeside(string card)
        {
            if (!tailsBeside.TryGetValue(card, out LaboratoryTails? known))
            {
                double[] own = Sorted(WithoutBoardsNights(Array.FindAll(all, o => o.Fit.Fit.Series[o.Place].Card == card)));
                tailsBeside.Add(card, known = LaboratoryTails.Of(runs.Value, own));
            }

            return known;
        }

        double CriticalOf(int n) => criticals.TryGetValue(n, out double known) ? known : criticals[n] = Outliers.Critical(n, RunChecks.Alpha / all.Length / 2);
    }

    /// <summary>The runs of series but for those in which all the others on the board were as odd: that is the night's, and no card's tail.</summary>
    private static ReadOnlySpan<double> WithoutBoardsNights((FitResiduals Fit, int Place)[] series)
    {
        double[] runs = new double[series.Sum(s => s.Fit.Robust[s.Place].Length)];
        int count = 0;
        foreach ((FitResiduals fit, int place) in series)
        {
            double[] robust = fit.Robust[place], residuals = fit.Residuals[place];
            for (int i = 0; i < robust.Length; i++)
            {
                if (!IsTheNights(residuals[i], fit.OthersThatNight(place, i)))
                {
                    runs[count++] = robust[i];
                }
            }
        }

        return runs.AsSpan(0, count);
    }

    private static double[] Sorted(ReadOnlySpan<double> values)
    {
        var sort = new PlaceSort(values.Length);
        sort.Sort(values);
        double[] sorted = new double[values.Length];
        for (int i = 0; i < sorted.Length; i++)
        {
            sorted[i] = values[sort.Places[i]];
        }

        return sorted;
    }

    private static bool IsTheNights(double log, (double Mean, int Cards) others) => others.Cards >= 2 && others.Mean * log > 0 && Math.Abs(others.Mean) >= Math.Abs(log) / 2;

    private static RunFinding Finding(FitResiduals fit, int place, int[] outliers)
    {
        SeriesRuns series = fit.Fit.Series[place];
        RunFigure[] runs = [.. outliers.Select(i => series.Figures[i])];
        int most = outliers.MaxBy(i => Math.Abs(fit.Residuals[place][i]));
        double log = fit.Residuals[place][most];
        (double others, int cards) = fit.OthersThatNight(place, most);
        Blame blame = cards < 2 ? Blame.Unknown : IsTheNights(log, (others, cards)) ? Blame.Board : Blame.Card;
        string board = series.Figures[most].Board;
        string whose = blame switch
        {
            Blame.Card => Invariant($"The {cards} other cards on {board} that night were as ever: it is the card's own."),
            Blame.Board => Invariant($"So were the {cards} other cards on {board} that night: it is the night's on that board."),
            _ => $"No two other cards were on {board} that night, so whether card or night was odd cannot be told.",
        };
        double[] rest = [.. Enumerable.Range(0, series.Figures.Length).Except(outliers).Select(i => fit.Residuals[place][i])];
        CardFinding finding = CardChecks.Finding(
            CheckIds.Outlier, FindingSeverity.Note,
            Invariant($"{runs.Length} of {series.Figures.Length} runs of {series.Key.TrialText} lie{(runs.Length == 1 ? "s" : "")} far from the others ({string.Join(", ", runs.Select(r => $"{TrialFigure.Text(Math.Exp(r.Log))} {TrialFigure.UnitOf(series.Key.Kind)} on {r.Board} in the night of {r.Night:yyyy-MM-dd}"))}); they are kept. {whose}"),
            "generalised ESD (Rosner, 1983; NIST/SEMATECH e-Handbook 1.3.5.17.3) on residuals of the card + board model, shared out over all cards",
            [.. runs.Select(r => r.Record)],
            ("with them", TrialFigure.Text(Math.Exp(fit.Fit.Fit.CardEffects[place]))), ("without", TrialFigure.Text(Math.Exp(fit.Fit.Fit.CardEffects[place] + rest.Average()))));
        return new RunFinding(CheckIds.Outlier, fit.Fit, place, blame, board, finding, null, []);
    }
}
