using Cardassay.Collector.Analysis.CardBoard;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Analysis.Statistics;
using MathNet.Numerics.Distributions;

namespace Cardassay.Collector.Analysis.Ranking;

/// <summary>Makes the contenders and the rows of a ranking.</summary>
internal static class RankedCards
{
    /// <summary>Runs, and nights, below which a rank bears the mark "provisional".</summary>
    public const int LeastRuns = 3;

    /// <summary>Level at which all floors of a table are decided together; so strict that it costs the joint statement about ranks no more than 1 %.</summary>
    public const double FloorLevel = 0.99;

    private const int LeastNights = 2;

    /// <summary>A measured card.</summary>
    public static (Contender Contender, RankedCard Row) Measured(CardResult card, int[] places, IReadOnlyList<CardBoardFit> fits, UseProfile profile, int cards)
    {
        double[] logs = new double[places.Length];
        var series = new SeriesRuns[places.Length];
        for (int i = 0; i < places.Length; i++)
        {
            (logs[i], series[i]) = (fits[i].Fit.CardEffects[places[i]], fits[i].Series[places[i]]);
        }

        FloorCheck[] floors =
        [
            .. profile.Metrics.Select((m, i) => (Metric: m, Index: i)).Where(x => x.Metric.Floor is not null)
                .Select(x => Check(x.Metric, Math.Exp(logs[x.Index]), RankOrder.Bounds(
                    logs[x.Index], fits[x.Index].LevelError(places[x.Index]), fits[x.Index].VarianceDf[places[x.Index]], TailOf(profile, cards)))),
        ];
        int runs = series.Min(s => s.Runs), nights = series.Min(s => s.Nights);
        return (new Contender(card.Name, places, logs, Together(floors)), new RankedCard
        {
            Name = card.Name,
            Tag = card.Tag,
            Runs = runs,
            Nights = nights,
            Boards = series.Min(s => s.Boards.Count),
            Figures = Array.ConvertAll(logs, Math.Exp),
            FloorChecks = floors,
            Floors = Together(floors),
            IsProvisional = IsProvisional(series),
        });
    }

    /// <summary>A card known by figures kept by hand only; null when they do not cover the profile.</summary>
    public static (Contender Contender, RankedCard Row)? HandKept(
        string name, IReadOnlyList<HandKeptResult> results, IReadOnlyList<CardBoardFit> fits, UseProfile profile, int cards)
    {
        double[] figures = [.. profile.Metrics.Select(m => results.Where(r => r.Kind == m.Kind).Select(r => r.Value).ToArray()).Select(kept => kept.Length == 0 ? 0 : Summary.MedianOf(kept))];
        if (figures.Contains(0))
        {
            return null;
        }

        FloorCheck[] floors =
        [
            .. profile.Metrics.Select((m, i) => (Metric: m, Index: i)).Where(x => x.Metric.Floor is not null).Select(x =>
            {
                (double variance, double df) = RankOrder.HandKeptVariance(fits[x.Index]);
                return Check(x.Metric, figures[x.Index], RankOrder.Bounds(Math.Log(figures[x.Index]), Math.Sqrt(variance), df, TailOf(profile, cards)));
            }),
        ];
        return (new Contender(name, null, Array.ConvertAll(figures, Math.Log), Together(floors)), new RankedCard
        {
            Name = name,
            Tag = name,
            Runs = 1,
            Figures = figures,
            FloorChecks = floors,
            Floors = Together(floors),
            IsProvisional = true,
            IsHandKept = true,
        });
    }

    /// <summary>Fewer than three runs, those of one night on one board counted as one, or one night only.</summary>
    public static bool IsProvisional(IEnumerable<SeriesRuns> series) => series.Any(s => s.Figures.Length < LeastRuns || s.Nights < LeastNights);

    /// <summary>A floor is missed by chance on one side only, so each tail takes its share of what all floors of all cards may cost.</summary>
    private static double TailOf(UseProfile profile, int cards) => (1 - FloorLevel) / Math.Max(1, cards * profile.Metrics.Count(m => m.Floor is not null));

    private static FloorCheck Check(ProfileMetric metric, double figure, (double Low, double High)? bounds)
    {
        double floor = metric.Floor!.Value;
        if (bounds is not (double low, double high))
        {
            return new FloorCheck(metric.Kind, floor, figure, figure, FloorState.Undecided);
        }

        return new FloorCheck(metric.Kind, floor, low, high, low >= floor ? FloorState.Pass : high < floor ? FloorState.Fail : FloorState.Undecided);
    }

    private static FloorState Together(FloorCheck[] checks) =>
        checks.Any(c => c.State == FloorState.Fail) ? FloorState.Fail
        : checks.Any(c => c.State == FloorState.Undecided) ? FloorState.Undecided
        : FloorState.Pass;
}
