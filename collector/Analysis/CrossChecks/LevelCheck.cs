using Cardassay.Collector.Analysis.CardBoard;
using Cardassay.Collector.Analysis.Cards;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Statistics;
using Cardassay.Identity;
using Cardassay.Trials;
using MathNet.Numerics.Random;
using static System.FormattableString;

namespace Cardassay.Collector.Analysis.CrossChecks;

/// <summary>
/// Changes of level between runs (METHOD rule 6). What counts is how often any card of the laboratory would show so good a division if the order of its
/// runs did not matter (Westfall and Young, 1993): of the card itself by its own permutations, of the others by theirs. A slope that all cards share is taken
/// off before, since it makes their order matter and is no change of any card's level.
/// </summary>
internal static class LevelCheck
{
    /// <summary>
    /// Level over all cards. Wear and correlation are known from the same runs, which costs up to twice the level: at 0.03 honest laboratories heard something
    /// in 5.1 and 5.8 %.
    /// </summary>
    public const double Alpha = 0.02;

    // Draws from all other series together, enough to see a chance of 1 in 1,000 per laboratory of a hundred series.
    private const int SharedDraws = 100_000;

    public static IEnumerable<RunFinding> Of(FitResiduals[] fits, double correlation)
    {
        var places = new List<(FitResiduals Fit, int Place)>();
        var all = new List<ChangeSearch>();
        foreach (FitResiduals fit in fits)
        {
            for (int k = 0; k < fit.Level.Length; k++)
            {
                if (fit.Level[k].Length >= ChangeSearch.Least)
                {
                    places.Add((fit, k));
                    all.Add(new ChangeSearch(Whitened(fit.Level[k], correlation), fit.LevelPrior));
                }
            }
        }

        foreach (int i in Enumerable.Range(0, all.Count).Where(i => all[i].RoughP * all.Count <= 10).OrderByDescending(i => all[i].Statistic))
        {
            ((FitResiduals fit, int place), ChangeSearch search) = (places[i], all[i]);
            int first = FirstOf(fit.Level[place]);
            SeriesRuns series = fit.Fit.Series[place];
            int[] starts = LargeEnough(fit.Level[place][first..], [.. search.Starts]);
            int seed = StableSeed.Of($"{series.Card}{TrialKinds.NameOf(series.Key.Kind)} {series.Key.ParametersText}");
            double own = starts.Length == 0 ? 1 : search.Share(search.Statistic, seed);
            if (own > Alpha)
            {
                continue;
            }

            double others = ByOthers(all, search, seed), p = 1 - (1 - own) * (1 - others);
            if (others > Alpha)
            {
                yield break; // the others reach what is less good all the more: p never falls on the way down (step-down, Westfall and Young)
            }

            if (p <= Alpha)
            {
                yield return Finding(fit, place, [.. starts.Select(s => first + s)], p);
            }
        }
    }

    /// <summary>True when the levels leave less of the card's runs than a straight line does, each parameter priced alike (Schwarz, 1978).</summary>
    public static bool FitsBetterThanSlope(RunFinding level, FitResiduals[] fits)
    {
        FitResiduals fit = fits.First(f => ReferenceEquals(f.Fit, level.Fit));
        return StepLine.FitsBetter([.. fit.Fit.Series[level.Place].Figures.Select(f => (double)f.Night.DayNumber)], fit.Level[level.Place], level.Changes!.Starts);
    }

    // What neighbouring nights have in common is taken out; a step stays a step, smaller.
    private static double[] Whitened(double[] all, double correlation)
    {
        ReadOnlySpan<double> residuals = all.AsSpan(FirstOf(all));
        if (correlation == 0 && residuals.Length == all.Length)
        {
            return all;
        }

        double[] white = new double[residuals.Length];
        white[0] = residuals[0] * Math.Sqrt(1 - correlation * correlation);
        for (int i = 1; i < white.Length; i++)
        {
            white[i] = residuals[i] - correlation * residuals[i - 1];
        }

        return white;
    }

    /// <summary>Where the part of a series begins that is searched.</summary>
    private static int FirstOf(double[] residuals) => Math.Max(0, residuals.Length - ChangeSearch.Most);

    private static int[] LargeEnough(double[] residuals, int[] starts)
    {
        var kept = starts.ToList();
        for (int i = kept.Count - 1; i >= 0; i--)
        {
            int from = i == 0 ? 0 : kept[i - 1], to = i == kept.Count - 1 ? residuals.Length : kept[i + 1];
            double ratio = Math.Exp(residuals[kept[i]..to].Average() - residuals[from..kept[i]].Average());
            if (Math.Abs(ratio - 1) < ChangeSearch.LeastEffect)
            {
                kept.RemoveAt(i);
            }
        }

        return [.. kept];
    }

    /// <summary>Chance that any of the other series reaches the statistic. Those whose best order does not reach it never can.</summary>
    private static double ByOthers(List<ChangeSearch> all, ChangeSearch own, int seed)
    {
        double statistic = own.Statistic;
        ChangeSearch[] able = [.. all.Where(o => o != own && o.Largest >= statistic)];
        if (able.Length == 0)
        {
            return 0;
        }

        // In a large laboratory a few of them, evenly spread, stand for all.
        var random = new Xoshiro256StarStar(seed, threadSafe: false);
        int asked = Math.Min(able.Length, 50), draws = Math.Min(ChangeSearch.Drawn, SharedDraws / asked), most = (int)Math.Ceiling(Alpha * draws * asked / able.Length) + 1;
        int reached = 0, tried = 0;
        for (int i = 0; i < asked && reached < most; i++)
        {
            reached += able[(int)((long)i * able.Length / asked)].Reaching(statistic, draws, most - reached, random);
            tried += draws;
        }

        return 1 - Math.Exp(-(double)able.Length * reached / tried);
    }

    private static RunFinding Finding(FitResiduals fit, int place, int[] starts, double p)
    {
        SeriesRuns series = fit.Fit.Series[place];
        double[] residuals = fit.Level[place];
        double level = fit.Fit.Fit.CardEffects[place];
        int[] bounds = [0, .. starts, residuals.Length];
        double[] logs = [.. Enumerable.Range(0, bounds.Length - 1).Select(i => residuals[bounds[i]..bounds[i + 1]].Average())];
        int largest = Enumerable.Range(1, starts.Length).MaxBy(i => Math.Abs(logs[i] - logs[i - 1]));
        double change = logs[largest] - logs[largest - 1];
        RunFigure at = series.Figures[bounds[largest]];
        (double others, int cards) = fit.OthersSince(place, at.Night);
        Blame blame = cards < 2 ? Blame.Unknown : others * change > 0 && Math.Abs(others) >= Math.Abs(change) / 2 ? Blame.Board : Blame.Card;
        string boards = string.Join(" and ", series.Boards);
        string whose = blame switch
        {
            Blame.Card => Invariant($"The {cards} other cards on the same boards did not change then: it is the card's own."),
            Blame.Board => Invariant($"So did the {cards} other cards on {boards} ({100 * (Math.Exp(others) - 1):+0.0;-0.0} % in the middle): it is the board's."),
            _ => "No two other cards were on its boards before and after, so whether card or board changed cannot be told.",
        };
        double[] means = [.. logs.Select(l => Math.Exp(level + l))];
        RecordKey[] records = [.. starts.Select(s => series.Figures[s].Record)];
        CardFinding finding = CardChecks.Finding(
            CheckIds.LevelChange, FindingSeverity.Note,
            Invariant($"{series.Key.TrialText} changed its level {starts.Length} time{(starts.Length == 1 ? "" : "s")} between runs: {string.Join(" to ", means.Select(TrialFigure.Text))} {TrialFigure.UnitOf(series.Key.Kind)}, from the night of {at.Night:yyyy-MM-dd} on. {whose}"),
            "after Barrett et al., OOPSLA 2017: exhaustive search; permutations of the runs, over all cards (Westfall and Young, 1993)", records,
            ("p over all cards", Invariant($"{p:0.0000}")), ("change, %", Invariant($"{100 * (Math.Exp(change) - 1):0.0}")));
        finding = blame == Blame.Card ? finding : finding with { Finding = finding.Finding with { Settles = $"Run the reference card on {boards} and this card on another board." } };
        return new RunFinding(CheckIds.LevelChange, fit.Fit, place, blame, at.Board, finding, new ChangeResult(starts, means, p), records);
    }
}
