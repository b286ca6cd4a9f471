using Cardassay.Collector.Analysis.Statistics;

namespace Cardassay.Collector.Analysis.CardBoard;

/// <summary>What the model leaves of every run of a metric, and what company a run had: the other cards on that board in that night.</summary>
internal sealed class FitResiduals
{
    private const int LeastRobust = 8;

    /// <summary>Fewest nights of a card that say anything of a slope.</summary>
    private const int LeastNights = 5;

    /// <summary>Fewest cards of which the middle slope is that of all rather than of one.</summary>
    private const int LeastShared = 3;

    // A MAD says as much of a normal's standard deviation as a sample of 37 % of the size (Hampel, JASA 1974).
    private const double MadEfficiency = 0.37;

    private readonly Lazy<ILookup<string, (int Card, DateOnly Night, double Residual)>> _byBoard;
    private readonly Lazy<Dictionary<(string Board, DateOnly Night), (double Sum, int Count)>> _byBoardNight;

    public FitResiduals(CardBoardFit fit)
    {
        Fit = fit;
        Residuals = [.. Enumerable.Range(0, fit.Series.Count).Select(fit.ResidualsOf)];
        Robust = Robustly(Residuals);
        _byBoard = new(() => Residuals.SelectMany((r, k) => r.Select((e, i) => (fit.Series[k].Figures[i].Board, Run: (k, fit.Series[k].Figures[i].Night, e)))).ToLookup(x => x.Board, x => x.Run, StringComparer.Ordinal));
        _byBoardNight = new(SumsByBoardAndNight);
        CommonSlope = SlopeOfAll();
        Level = [.. Residuals.Select((r, k) => WithoutSlope(k, r))];
        LevelPrior = CommonSlope == 0 ? fit.Prior : PriorOf(Level);
    }

    public CardBoardFit Fit { get; }

    /// <summary>Residuals of each card, in order of measurement.</summary>
    public double[][] Residuals { get; }

    /// <summary>
    /// The same around the card's middle, in what its MAD makes of a standard deviation, which outlying runs do not move; drawn toward that of all cards, as
    /// variances are, since the MAD of few runs is little knowledge. Empty below eight runs.
    /// </summary>
    public double[][] Robust { get; }

    /// <summary>
    /// What all cards wear or drift by, per night: the middle of their slopes. 0 with fewer than three cards to tell it from, and where all cards together made
    /// a step rather than a slope, so that the step is not taken for wear.
    /// </summary>
    public double CommonSlope { get; }

    /// <summary>Residuals without <see cref="CommonSlope"/>: what all cards share is no change of one card's level.</summary>
    public double[][] Level { get; }

    /// <summary>What the cards' variances have in common without that slope: wear is no scatter.</summary>
    public ModeratedVariances? LevelPrior { get; }

    /// <summary>Lag-1 correlations of the cards with enough runs, without the slope that all share, freed of what the card's own mean takes away.</summary>
    public IEnumerable<double> LagOnes => Level.Where(r => r.Length >= 8).Select(r => SerialCorrelation.LagOne(r) is { } lag ? lag + (1 + 3 * Math.Max(0, lag)) / r.Length : double.NaN)
        .Where(r => !double.IsNaN(r));

    /// <summary>Mean residual of the other cards on a board in a night, and how many they are.</summary>
    public (double Mean, int Cards) OthersThatNight(int card, string board, DateOnly night)
    {
        (double sum, int cards) = _byBoardNight.Value.GetValueOrDefault((board, night));
        IReadOnlyList<RunFigure> own = Fit.Series[card].Figures;
        for (int i = 0; i < own.Count; i++)
        {
            (sum, cards) = own[i].Board == board && own[i].Night == night ? (sum - Residuals[card][i], cards - 1) : (sum, cards);
        }

        return (cards == 0 ? 0 : sum / cards, cards);
    }

    /// <summary>
    /// How the other cards on a card's boards moved from before a night to after it, the slope that all cards share aside: the middle of their changes, and how
    /// many have figures on both sides.
    /// </summary>
    public (double Middle, int Cards) OthersSince(int card, DateOnly from)
    {
        double[] moves =
        [
            .. Company(card).Where(o => o.Any(x => x.Night < from) && o.Any(x => x.Night >= from))
                .Select(o => LevelOf(o.Where(x => x.Night >= from)) - LevelOf(o.Where(x => x.Night < from))),
        ];
        return (moves.Length == 0 ? 0 : Summary.MedianOf(moves), moves.Length);
    }

    /// <summary>How the other cards on a card's boards drift, per night: the middle of their slopes, and how many there are.</summary>
    public (double Middle, int Cards) OthersDrift(int card)
    {
        double[] slopes =
        [
            .. Company(card).Select(o => o.ToArray()).Where(o => o.Select(x => x.Night).Distinct().Count() > 2)
                .Select(o => TheilSen.Slope([.. o.Select(x => (double)x.Night.DayNumber)], [.. o.Select(x => x.Residual)])).OfType<double>(),
        ];
        return (slopes.Length == 0 ? 0 : Summary.MedianOf(slopes), slopes.Length);
    }

    private Dictionary<(string Board, DateOnly Night), (double Sum, int Count)> SumsByBoardAndNight()
    {
        var sums = new Dictionary<(string Board, DateOnly Night), (double Sum, int Count)>();
        for (int k = 0; k < Residuals.Length; k++)
        {
            for (int i = 0; i < Residuals[k].Length; i++)
            {
                RunFigure at = Fit.Series[k].Figures[i];
                (double sum, int count) = sums.GetValueOrDefault((at.Board, at.Night));
                sums[(at.Board, at.Night)] = (sum + Residuals[k][i], count + 1);
            }
        }

        return sums;
    }

    private IEnumerable<IGrouping<int, (int Card, DateOnly Night, double Residual)>> Company(int card) =>
        Fit.Series[card].Figures.Select(f => f.Board).Distinct().SelectMany(b => _byBoard.Value[b]).Where(x => x.Card != card).GroupBy(x => x.Card);

    private double LevelOf(IEnumerable<(int Card, DateOnly Night, double Residual)> runs) => runs.Average(x => x.Residual - CommonSlope * x.Night.DayNumber);

    private double[] WithoutSlope(int card, double[] residuals)
    {
        IReadOnlyList<RunFigure> figures = Fit.Series[card].Figures;
        double middle = CommonSlope == 0 ? 0 : figures.Average(f => f.Night.DayNumber);
        return CommonSlope == 0 ? residuals : [.. residuals.Select((e, i) => e - CommonSlope * (figures[i].Night.DayNumber - middle))];
    }

    private ModeratedVariances? PriorOf(double[][] residuals)
    {
        int[] known = [.. Enumerable.Range(0, residuals.Length).Where(k => Fit.ResidualDf[k] > 0)];
        return known.Length < ModeratedVariances.LeastGroups
            ? null
            : ModeratedVariances.Of([.. known.Select(k => residuals[k].Sum(e => e * e) / Fit.ResidualDf[k])], [.. known.Select(k => Fit.ResidualDf[k])]);
    }

    private double SlopeOfAll()
    {
        double[] slopes = [.. Enumerable.Range(0, Residuals.Length).Where(k => Fit.Series[k].Nights >= LeastNights).Select(SlopeOf)];
        if (slopes.Length < LeastShared)
        {
            return 0;
        }

        (DateOnly Night, double Middle)[] nights =
        [
            .. Residuals.SelectMany((r, k) => r.Select((e, i) => (Fit.Series[k].Figures[i].Night, Residual: e))).GroupBy(x => x.Night, x => x.Residual).OrderBy(g => g.Key)
                .Select(g => (g.Key, Summary.MedianOf([.. g]))),
        ];
        return StepLine.IsStep([.. nights.Select(n => (double)n.Night.DayNumber)], [.. nights.Select(n => n.Middle)]) ? 0 : Summary.MedianOf(slopes);
    }

    private double SlopeOf(int card)
    {
        IReadOnlyList<RunFigure> figures = Fit.Series[card].Figures;
        double middle = figures.Average(f => f.Night.DayNumber), along = 0, across = 0;
        for (int i = 0; i < figures.Count; i++)
        {
            double x = figures[i].Night.DayNumber - middle;
            (along, across) = (along + x * x, across + x * Residuals[card][i]);
        }

        return across / along;
    }

    private static double[][] Robustly(double[][] residuals)
    {
        Summary[] summaries = [.. residuals.Select(r => r.Length < LeastRobust ? default : Summary.Of(r))];
        int[] known = [.. Enumerable.Range(0, residuals.Length).Where(k => residuals[k].Length >= LeastRobust)];
        double[] variances = [.. summaries.Select(s => Math.Max(1e-14, Math.Pow(1.4826 * s.Mad, 2)))], df = [.. residuals.Select(r => MadEfficiency * (r.Length - 1))];
        ModeratedVariances? prior = known.Length >= ModeratedVariances.LeastGroups ? ModeratedVariances.Of([.. known.Select(k => variances[k])], [.. known.Select(k => df[k])]) : null;
        return
        [
            .. residuals.Select((r, k) =>
            {
                double scale = r.Length < LeastRobust ? 1 : Math.Sqrt(prior?.Moderate(variances[k], df[k]) ?? variances[k]);
                return r.Length < LeastRobust ? [] : Array.ConvertAll(r, e => (e - summaries[k].Median) / scale);
            }),
        ];
    }
}
