using System.Globalization;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Statistics;
using Cardassay.Collector.Report.Model;
using Cardassay.Trials;

namespace Cardassay.Collector.Report.Building;

/// <summary>One series of figures of one card.</summary>
internal static class MetricBuilder
{
    /// <summary>Name of a trial kind for people ("Random read").</summary>
    public static string Name(TrialKind kind)
    {
        string name = string.Concat(kind.ToString().Select((c, i) => i > 0 && char.IsUpper(c) ? " " + char.ToLowerInvariant(c) : c.ToString()));
        return name;
    }

    /// <summary>"Random read, 4 KiB, depth 1": a key without its context, for people.</summary>
    public static string Trial(ComparabilityKey key) => $"{Name(key.Kind)}, {Parameters(key)}";

    private static string Parameters(ComparabilityKey key) => key.ParametersText;

    /// <summary>"97.85 %": a level as printed.</summary>
    public static string Percent(double level) => (level * 100).ToString("0.00", CultureInfo.InvariantCulture) + " %";

    /// <summary>The first series of each kind of which a figure counts.</summary>
    public static IEnumerable<MetricSummary> Leading(IEnumerable<MetricSummary> series) =>
        series.Where(s => s.Interval is not null).GroupBy(s => s.Kind).Select(kind => kind.First());

    /// <summary>Series in the order of every table; within a kind the one the rank stands on first, then the one with the most figures.</summary>
    public static MetricSummary[] InOrder(ReportSource source, CardResult card) =>
    [
        .. card.Metrics
            .OrderBy(m => Position(m.Metric))
            .ThenByDescending(m => source.IsRankedKey(m.Key))
            .ThenBy(m => m.Key.IsAside)
            .ThenByDescending(m => m.N)
            .ThenBy(m => m.Key.Text, StringComparer.Ordinal),
    ];

    /// <summary>A series with at least one figure that counts, with every figure.</summary>
    public static ReportMetric Whole(ReportSource source, CardResult card, MetricSummary series)
    {
        int decimals = Figure.DecimalsFor(series.Interval!.Value.Median);
        (ReportPoint[] points, RecordKey[] keys) = Points(source, card, series, decimals);
        return Build(source, card, series) with
        {
            Points = points,
            ByRun = Parts(source, series, keys, value => Figure.Of(value, decimals)),
            Changes = [.. series.LevelStarts.Select(start => Array.IndexOf(keys, start)).Where(at => at > 0)],
        };
    }

    /// <summary>A series with at least one figure that counts, without its single figures.</summary>
    public static ReportMetric Build(ReportSource source, CardResult card, MetricSummary series)
    {
        var interval = series.Interval!.Value;
        int decimals = Figure.DecimalsFor(interval.Median);
        ReportRank? rank = source.MetricRanks.Of(card, series);
        Figure Round(double value) => Figure.Of(value, decimals);
        return new ReportMetric
        {
            Key = series.Metric,
            Name = Name(series.Kind),
            Unit = series.Unit,
            Series = series.Key.ConditionsText,
            Median = Round(interval.Median),
            Low = Round(interval.Low),
            High = Round(interval.High),
            Runs = series.N,
            IsInterval = !interval.IsRangeOnly,
            Bounds = interval.N == 1 ? "single figure" : interval.IsRangeOnly ? $"range of {Wording.Number(interval.N)}" : Percent(interval.Level) + " interval",
            Settled = series.Settled ? "settled" : interval.IsRangeOnly ? "not settled" : "not settled, ±" + Figure.Of(interval.RelativeHalfWidth * 100, 1).Text + " %",
            Rank = rank,
            Unranked = rank is null ? "no other card measured alike" : "",
            Minimum = Round(series.Summary!.Value.Minimum),
            Maximum = Round(series.Summary.Value.Maximum),
            Mad = Round(series.Summary.Value.Mad),
            CvPercent = series.Summary.Value.Cv is double cv ? Figure.Of(cv * 100, 1) : null,
            Remarks = [.. Remarks(series, Round)],
        };
    }

    /// <summary>Single figures written down by hand, as a series of their own: they never mix with measured ones and have no interval.</summary>
    public static IEnumerable<ReportMetric> HandKept(IEnumerable<HandKeptResult> results)
    {
        foreach (IGrouping<TrialKind, HandKeptResult> kind in results.GroupBy(r => r.Kind).OrderBy(g => Position(TrialKinds.NameOf(g.Key))))
        {
            double[] values = [.. kind.Select(r => r.Value)];
            Summary summary = Summary.Of(values);
            int decimals = Figure.DecimalsFor(summary.Median);
            yield return new ReportMetric
            {
                Key = TrialKinds.NameOf(kind.Key),
                Name = Name(kind.Key),
                Unit = TrialFigure.UnitOf(kind.Key),
                Series = "kept by hand, conditions not recorded",
                Median = Figure.Of(summary.Median, decimals),
                Low = Figure.Of(summary.Minimum, decimals),
                High = Figure.Of(summary.Maximum, decimals),
                Runs = values.Length,
                Bounds = values.Length == 1 ? "single figure" : $"range of {Wording.Number(values.Length)}",
                Settled = "not settled",
                HandKept = true,
                Unranked = "figures kept by hand have no interval",
                Minimum = Figure.Of(summary.Minimum, decimals),
                Maximum = Figure.Of(summary.Maximum, decimals),
                Points = [.. kind.Select(r => new ReportPoint(
                    Figure.Of(r.Value, decimals), "", r.Day?.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture) ?? "", PointState.Counted, r.Provenance))],
            };
        }
    }

    /// <summary>Measured series first within each kind, whoever kept the others.</summary>
    public static ReportMetric[] Together(IEnumerable<ReportMetric> measured, IEnumerable<ReportMetric> handKept) =>
        [.. measured.Concat(handKept).GroupBy(m => m.Key).OrderBy(kind => Position(kind.Key)).SelectMany(Labelled)];

    /// <summary>Series of one kind, each named by what not all of them have in common.</summary>
    private static IEnumerable<ReportMetric> Labelled(IEnumerable<ReportMetric> kind)
    {
        const string Between = ", ";
        (ReportMetric Metric, string[] Parts)[] series = [.. kind.Select(m => (m, m.Series.Split(Between)))];
        string[] common = [.. series[0].Parts.Where(part => series.All(s => s.Parts.Contains(part)))];
        return series.Select(s => s.Metric with { Label = string.Join(Between, [s.Metric.Name, .. s.Parts.Except(common)]) });
    }

    /// <summary>A series of which no figure counts, as a sentence with its figures: nothing is dropped.</summary>
    public static string NotCounted(MetricSummary series)
    {
        double middle = series.SetAside.Select(v => v.Value.Value).DefaultIfEmpty(0).Max();
        IEnumerable<string> figures = series.SetAside.Select(v => Figure.Of(v.Value.Value, Figure.DecimalsFor(middle)).Text);
        IEnumerable<string> rules = series.SetAside.Select(v => SetAsideRules.SentenceOf(v.Rule)).Distinct();
        return $"{Trial(series.Key)}: none of {Wording.Count(series.SetAside.Count, "figure", "figures")} counts ({string.Join(", ", figures)} {series.Unit}). {string.Join(" ", rules)}";
    }

    /// <summary>The figures of a series of which none counts.</summary>
    public static ReportPoint[] Uncounted(ReportSource source, CardResult card, MetricSummary series) => Points(source, card, series, Figure.DecimalsFor(0)).Points;

    private static int Position(string metric)
    {
        for (int i = 0; i < Wording.RankedMetrics.Count; i++)
        {
            if (Wording.RankedMetrics[i].Key == metric)
            {
                return i;
            }
        }

        return Wording.RankedMetrics.Count + TrialKinds.PlaceOf(TrialKinds.Parse(metric) ?? TrialKind.Unknown);
    }

    private static (ReportPoint[] Points, RecordKey[] Keys) Points(ReportSource source, CardResult card, MetricSummary series, int decimals)
    {
        Dictionary<RecordKey, int> order = [];
        foreach (RunUse run in card.Runs)
        {
            order.TryAdd(run.Key, order.Count);
        }

        int RunOrder(MetricValue value) => source.Run(value.Run) is { } run ? order.GetValueOrDefault(run.Key, int.MaxValue) : int.MaxValue;
        HashSet<RecordKey> setAside = [.. series.SetAside.Select(v => v.Value.Record)];
        var all = series.Values.Where(v => !setAside.Contains(v.Record)).Select(v => (Value: v, Aside: (SetAsideValue?)null))
            .Concat(series.SetAside.Select(v => (Value: v.Value, Aside: (SetAsideValue?)v)))
            .OrderBy(v => RunOrder(v.Value)).ThenBy(v => v.Value.Record.Epoch, StringComparer.Ordinal).ThenBy(v => v.Value.Record.Sequence)
            .ToArray();
        HashSet<RecordKey> pooled = [.. series.Values.Select(v => v.Record)];
        return ([.. all.Select(v => Point(source, v.Value, v.Aside, pooled.Contains(v.Value.Record), decimals))], [.. all.Select(v => v.Value.Record)]);
    }

    private static ReportPart[] Parts(ReportSource source, MetricSummary series, RecordKey[] keys, Func<double, Figure> round) =>
    [
        .. series.Values.GroupBy(v => v.Run).Select(run =>
        {
            int[] places = [.. run.Select(v => Array.IndexOf(keys, v.Record))];
            MedianInterval bounds = MedianInterval.Of([.. run.Select(v => v.Value)]);
            string when = source.Run(run.Key) is { } known ? RunBuilder.When(known) : "";
            return new ReportPart(
                places.Min(), places.Max(), when, run.First().Board, round(bounds.Median), round(bounds.Low), round(bounds.High), bounds.N, !bounds.IsRangeOnly);
        }).OrderBy(p => p.First),
    ];

    private static ReportPoint Point(ReportSource source, MetricValue value, SetAsideValue? aside, bool pooled, int decimals)
    {
        string when = source.Run(value.Run) is { } run ? RunBuilder.When(run) : Wording.Day(value.Night);
        string remark = aside is null ? value.IsOutlier ? "far from the others; it counts" : ""
            : string.Join(" ", aside.Reasons.Prepend(SetAsideRules.SentenceOf(aside.Rule)).Append(pooled ? "Pooled all the same." : "").Where(t => t.Length > 0));
        PointState state = aside is null || pooled
            ? value.IsOutlier ? PointState.Outlier : PointState.Counted
            : aside.Rule switch
            {
                SetAsideRule.WarmUpRole or SetAsideRule.FirstRun => PointState.WarmUp,
                SetAsideRule.ClosingRole => PointState.Closing,
                _ => PointState.Invalid,
            };
        return new ReportPoint(Figure.Of(value.Value, decimals), value.Board, when, state, remark)
        {
            Record = value.Record, Rule = aside is null || pooled ? "" : SetAsideRules.IdOf(aside.Rule),
        };
    }

    private static IEnumerable<string> Remarks(MetricSummary series, Func<double, Figure> round)
    {
        int outliers = series.Values.Count(v => v.IsOutlier);
        if (outliers > 0)
        {
            string without = series.MedianWithoutOutliers is double median ? $"; without {(outliers == 1 ? "it" : "them")} the median is {round(median).Text} {series.Unit}" : "";
            yield return $"{Wording.Count(outliers, "figure lies", "figures lie")} far from the others and {(outliers == 1 ? "counts" : "count")} all the same{without}";
        }

        if (series.Changes is { Starts.Count: > 0 } changes)
        {
            string levels = string.Join(" to ", changes.LevelMeans.Select(m => round(m).Text));
            yield return $"the level changes between runs, {levels} {series.Unit} (p = {P(changes.P)} over all cards)";
        }

        if (series.BetweenRuns is { } spread && series.Median > 0)
        {
            yield return $"spread within runs {Figure.Of(spread.WithinSd / series.Median * 100, 1).Text} %, between runs {Figure.Of(spread.BetweenSd / series.Median * 100, 1).Text} % of the median";
        }

        if (series.ByBoard.Count > 1)
        {
            yield return "by board: " + string.Join(", ", series.ByBoard.Select(b => $"{b.Name} {round(b.Median).Text} (n = {Wording.Number(b.N)})"));
        }

        if (series.LagOneCorrelation is > 0.3 and double r)
        {
            yield return $"each figure resembles the one before it (r = {Figure.Of(r, 2).Text}), so the interval is narrower than it should be";
        }
    }

    /// <summary>A probability as printed: three places, "&lt; 0.001" below.</summary>
    public static string P(double p) => p < 0.001 ? "< 0.001" : Figure.Of(p, 3).Text;
}
