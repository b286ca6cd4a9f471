using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Analysis.Statistics;
using Cardassay.Trials;

namespace Cardassay.Collector.Analysis.Ranking;

/// <summary>
/// Makes the rows of a ranking. The k-th values of all metrics, in order of measurement, make one repetition with one composite; the
/// card's composite is the median of these, so that its interval is as exact and distribution-free as that of a single metric.
/// </summary>
internal static class RankedCards
{
    public static RankedCard Of(CardResult card, MetricSummary[] metrics, UseProfile profile)
    {
        int n = metrics.Min(m => m.N);
        var composites = new double[n];
        var figures = new double[metrics.Length];
        for (int k = 0; k < n; k++)
        {
            for (int i = 0; i < metrics.Length; i++)
            {
                figures[i] = metrics[i].Values[k].Value;
            }

            composites[k] = profile.Composite(figures);
        }

        FloorCheck[] floors = [.. metrics.Select((m, i) => (Metric: m, profile.Metrics[i].Floor)).Where(x => x.Floor is not null).Select(x => Check(x.Metric, x.Floor!.Value))];
        return AtLevel(
            new RankedCard
            {
                Name = card.Name,
                Tag = card.Tag,
                N = n,
                Repetitions = composites,
                Figures = [.. metrics.Select(m => m.Median)],
                FloorChecks = floors,
                Floors = Together(floors),
            },
            MedianInterval.PublishedLevel);
    }

    /// <summary>The card with its interval at another level.</summary>
    public static RankedCard AtLevel(RankedCard card, double level)
    {
        MedianInterval interval = MedianInterval.Of(card.Repetitions, level);
        return card with { Composite = interval.Median, Low = interval.Low, High = interval.High, Level = interval.Level };
    }

    /// <summary>A card known by hand-kept figures only; null when they do not cover the profile.</summary>
    public static RankedCard? OfHandKept(string name, IReadOnlyList<HandKeptResult> results, UseProfile profile)
    {
        var figures = new double[profile.Metrics.Count];
        for (int i = 0; i < figures.Length; i++)
        {
            double[] kept = [.. results.Where(r => r.Kind == profile.Metrics[i].Kind).Select(r => r.Value)];
            if (kept.Length == 0)
            {
                return null;
            }

            figures[i] = Summary.MedianOf(kept);
        }

        FloorCheck[] floors =
        [
            .. profile.Metrics.Select((m, i) => (m, Figure: figures[i])).Where(x => x.m.Floor is not null)
                .Select(x => new FloorCheck(x.m.Kind, x.m.Floor!.Value, x.Figure, x.Figure, FloorState.Undecided)),
        ];
        double composite = profile.Composite(figures);
        return new RankedCard
        {
            Name = name,
            Tag = name,
            N = 1,
            Composite = composite,
            Low = composite,
            High = composite,
            Repetitions = [composite],
            Figures = figures,
            FloorChecks = floors,
            Floors = floors.Length == 0 ? FloorState.Pass : FloorState.Undecided,
            IsProvisional = true,
            IsHandKept = true,
        };
    }

    private static FloorCheck Check(MetricSummary metric, double floor)
    {
        FloorState state = metric.IsRangeOnly ? FloorState.Undecided
            : metric.Low >= floor ? FloorState.Pass
            : metric.High < floor ? FloorState.Fail
            : FloorState.Undecided;
        return new FloorCheck(metric.Kind, floor, metric.Low, metric.High, state);
    }

    private static FloorState Together(FloorCheck[] checks) =>
        checks.Any(c => c.State == FloorState.Fail) ? FloorState.Fail
        : checks.Any(c => c.State == FloorState.Undecided) ? FloorState.Undecided
        : FloorState.Pass;
}
