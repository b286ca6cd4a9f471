using System.Runtime.InteropServices;
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

    private readonly Dictionary<BoardNight, (double Sum, int Count)> _byBoardNight;

    public FitResiduals(CardBoardFit fit)
    {
        Fit = fit;
        Residuals = new double[fit.Series.Count][];
        for (int k = 0; k < Residuals.Length; k++)
        {
            Residuals[k] = fit.ResidualsOf(k);
        }

        Robust = Robustly(Residuals);
        _byBoardNight = SumsByBoardAndNight();
        CommonSlope = SlopeOfAll();
        Level = [.. Residuals.Select((r, k) => WithoutSlope(k, r))];
        LagOnes = [.. Level.Where(r => r.Length >= 8).Select(r => SerialCorrelation.LagOne(r) is { } lag ? lag + (1 + 3 * Math.Max(0, lag)) / r.Length : double.NaN).Where(r => !double.IsNaN(r))];
        LevelPrior = CommonSlope == 0 ? fit.Prior : fit.PriorOf(Array.ConvertAll(Level, r => r.Sum(e => e * e)));
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
    public double[] LagOnes { get; }

    /// <summary>Mean residual of the other cards on the board and in the night of a card's figure, and how many they are. A card has one figure there.</summary>
    public (double Mean, int Cards) OthersThatNight(int card, int figure)
    {
        (double sum, int count) = _byBoardNight[new BoardNight(Fit.UnitsOf(card)[figure].Board, Fit.Series[card].Figures[figure].Night)];
        return (count == 1 ? 0 : (sum - Residuals[card][figure]) / (count - 1), count - 1);
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
            .. Company(card).Where(o => o.Select(x => x.Night).Distinct().Count() > 2)
                .Select(o => TheilSen.Slope([.. o.Select(x => (double)x.Night.DayNumber)], [.. o.Select(x => x.Residual)])).OfType<double>(),
        ];
        return (slopes.Length == 0 ? 0 : Summary.MedianOf(slopes), slopes.Length);
    }

    private Dictionary<BoardNight, (double Sum, int Count)> SumsByBoardAndNight()
    {
        var sums = new Dictionary<BoardNight, (double Sum, int Count)>();
        for (int k = 0; k < Residuals.Length; k++)
        {
            RunFigure[] figures = Fit.Series[k].Figures;
            ReadOnlySpan<AdditiveUnit> units = Fit.UnitsOf(k);
            for (int i = 0; i < units.Length; i++)
            {
                ref (double Sum, int Count) at = ref CollectionsMarshal.GetValueRefOrAddDefault(sums, new BoardNight(units[i].Board, figures[i].Night), out _);
                at = (at.Sum + Residuals[k][i], at.Count + 1);
            }
        }

        return sums;
    }

    /// <summary>The runs of each other card on the boards of a card.</summary>
    private IEnumerable<(DateOnly Night, double Residual)[]> Company(int card)
    {
        int[] boards = [.. Enumerable.Range(0, Fit.Boards.Count).Where(b => Fit.Fit.Count(card, b) > 0)];
        foreach (int other in Enumerable.Range(0, Residuals.Length).Where(k => k != card && Array.Exists(boards, b => Fit.Fit.Count(k, b) > 0)))
        {
            yield return [.. Enumerable.Range(0, Residuals[other].Length).Where(i => boards.Contains(Fit.UnitsOf(other)[i].Board)).Select(i => (Fit.Series[other].Figures[i].Night, Residuals[other][i]))];
        }
    }

    private double LevelOf(IEnumerable<(DateOnly Night, double Residual)> runs) => runs.Average(x => x.Residual - CommonSlope * x.Night.DayNumber);

    private double[] WithoutSlope(int card, double[] residuals)
    {
        if (CommonSlope == 0)
        {
            return residuals;
        }

        RunFigure[] figures = Fit.Series[card].Figures;
        double middle = MiddleDay(figures);
        double[] level = new double[residuals.Length];
        for (int i = 0; i < level.Length; i++)
        {
            level[i] = residuals[i] - CommonSlope * (figures[i].Night.DayNumber - middle);
        }

        return level;
    }

    private static double MiddleDay(RunFigure[] figures)
    {
        double sum = 0;
        for (int i = 0; i < figures.Length; i++)
        {
            sum += figures[i].Night.DayNumber;
        }

        return sum / figures.Length;
    }

    private double SlopeOfAll()
    {
        double[] slopes = [.. Enumerable.Range(0, Residuals.Length).Where(k => Fit.Series[k].Nights >= LeastNights).Select(SlopeOf)];
        if (slopes.Length < LeastShared)
        {
            return 0;
        }

        var byNight = new Dictionary<DateOnly, List<double>>();
        for (int k = 0; k < Residuals.Length; k++)
        {
            RunFigure[] figures = Fit.Series[k].Figures;
            for (int i = 0; i < figures.Length; i++)
            {
                DateOnly night = figures[i].Night;
                (byNight.TryGetValue(night, out List<double>? all) ? all : byNight[night] = new List<double>(Residuals.Length)).Add(Residuals[k][i]);
            }
        }

        (DateOnly Night, double Middle)[] nights = [.. byNight.OrderBy(n => n.Key).Select(n => (n.Key, Summary.MedianInPlace(CollectionsMarshal.AsSpan(n.Value))))];
        return StepLine.IsStep([.. nights.Select(n => (double)n.Night.DayNumber)], [.. nights.Select(n => n.Middle)]) ? 0 : Summary.MedianOf(slopes);
    }

    private double SlopeOf(int card)
    {
        RunFigure[] figures = Fit.Series[card].Figures;
        double middle = MiddleDay(figures), along = 0, across = 0;
        for (int i = 0; i < figures.Length; i++)
        {
            double x = figures[i].Night.DayNumber - middle;
            (along, across) = (along + x * x, across + x * Residuals[card][i]);
        }

        return across / along;
    }

    private static double[][] Robustly(double[][] residuals)
    {
        int count = residuals.Length;
        double[] medians = new double[count], variances = new double[count], df = new double[count];
        double[] room = new double[residuals.Select(r => r.Length).DefaultIfEmpty(0).Max()];
        for (int k = 0; k < count; k++)
        {
            if (residuals[k].Length >= LeastRobust)
            {
                (medians[k], double mad) = Summary.MedianAndMad(residuals[k], room);
                (variances[k], df[k]) = (Math.Max(1e-14, Math.Pow(1.4826 * mad, 2)), MadEfficiency * (residuals[k].Length - 1));
            }
        }

        int[] known = [.. Enumerable.Range(0, count).Where(k => df[k] > 0)];
        ModeratedVariances? prior = known.Length >= ModeratedVariances.LeastGroups ? ModeratedVariances.Of(Array.ConvertAll(known, k => variances[k]), Array.ConvertAll(known, k => df[k])) : null;
        double[][] robust = new double[count][];
        for (int k = 0; k < count; k++)
        {
            double scale = Math.Sqrt(prior?.Moderate(variances[k], df[k]) ?? variances[k]);
            double[] own = robust[k] = df[k] > 0 ? new double[residuals[k].Length] : [];
            for (int i = 0; i < own.Length; i++)
            {
                own[i] = (residuals[k][i] - medians[k]) / scale;
            }
        }

        return robust;
    }
}
