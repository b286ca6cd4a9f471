using Cardassay.Collector.Analysis.Cards;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Statistics;
using Cardassay.Identity;
using static System.FormattableString;

namespace Cardassay.Collector.Analysis.CrossChecks;

/// <summary>Statistical tests on one card's data; what becomes a finding is decided over all cards together.</summary>
internal static class CardTests
{
    /// <summary>Least total drift over the nights seen that is worth a finding: 3 %.</summary>
    public const double LeastDriftPercent = 3;

    /// <summary>Least change between the first and the closing trial of a run that is worth a finding: 3 %.</summary>
    public const double LeastChange = 0.03;

    private const int LeastClosings = 7;

    public static IEnumerable<TestCandidate> Of(CardFigures figures, CardResult card)
    {
        foreach (MetricSummary metric in card.Metrics)
        {
            if (metric.Drift is { } drift)
            {
                yield return DriftTest(metric, drift);
            }

            if (metric.N >= Outliers.EsdLeast && metric.Values.All(v => v.Value > 0))
            {
                yield return OutlierTest(metric);
            }
        }

        foreach ((ComparabilityKey key, List<(double Ratio, RecordKey Record)> ratios) in figures.ClosingRatios.OrderBy(r => r.Key.Text, StringComparer.Ordinal))
        {
            if (ClosingTest(key, ratios) is { } test)
            {
                yield return test;
            }
        }
    }

    private static TestCandidate DriftTest(MetricSummary metric, Drift drift)
    {
        int span = metric.Values.Max(v => v.Night.DayNumber) - metric.Values.Min(v => v.Night.DayNumber);
        return new TestCandidate(CheckIds.Drift, drift.P, Math.Abs(drift.PercentPerNight) * span < LeastDriftPercent ? null : () => CardChecks.Finding(
            CheckIds.Drift, FindingSeverity.Note,
            Invariant($"{metric.Key.TrialText} {(drift.PercentPerNight < 0 ? "falls" : "rises")} by {Math.Abs(drift.PercentPerNight):0.00} % a night over {drift.Nights} nights on {drift.Board}{PerWritten(drift)}."),
            "exact Mann-Kendall test (Mann, 1945) and Theil-Sen slope (Sen, 1968)",
            [metric.Values[0].Record, metric.Values[^1].Record],
            ("S", Invariant($"{drift.S}")), ("p", Invariant($"{drift.P:0.000000}")), ("metric", metric.Metric), ("board", drift.Board)));
    }

    private static string PerWritten(Drift drift) =>
        drift.PercentPer100Gigabytes is { } per ? Invariant($" ({per:+0.00;-0.00} % per 100 GB written)") : "";

    private static TestCandidate OutlierTest(MetricSummary metric)
    {
        double[] logs = [.. metric.Values.Select(v => Math.Log(v.Value))];
        double p = Outliers.GrubbsP(logs);
        return new TestCandidate(CheckIds.Outlier, p, p > 0.01 ? null : () =>
        {
            EsdResult found = Outliers.GeneralisedEsd(logs, Math.Max(1, logs.Length / 5), 0.01);
            int[] which = found.Outliers.Count > 0 ? [.. found.Outliers.Order()] : [Extreme(logs)];
            return CardChecks.Finding(
                CheckIds.Outlier, FindingSeverity.Note,
                Invariant($"{which.Length} of {metric.N} values of {metric.Key.TrialText} lie{(which.Length == 1 ? "s" : "")} far from the others ({string.Join(", ", which.Select(i => Metrics.Format(metric.Values[i].Value)))} {metric.Unit}); they are kept, the median without them is shown beside."),
                "generalised ESD (Rosner, 1983; NIST/SEMATECH e-Handbook 1.3.5.17.3) on logarithms",
                [.. which.Select(i => metric.Values[i].Record)],
                ("median", Metrics.Format(metric.Median)));
        });
    }

    private static int Extreme(double[] values)
    {
        double mean = values.Average();
        return Enumerable.Range(0, values.Length).MaxBy(i => Math.Abs(values[i] - mean));
    }

    private static TestCandidate? ClosingTest(ComparabilityKey key, List<(double Ratio, RecordKey Record)> ratios)
    {
        double[] logs = [.. ratios.Where(r => r.Ratio > 0).Select(r => Math.Log(r.Ratio))];
        if (logs.Length < LeastClosings)
        {
            return null;
        }

        // The exact sign test: chance of so uneven a split if a closing trial were as often faster as slower.
        int up = logs.Count(l => l > 0), down = logs.Count(l => l < 0);
        int less = Math.Min(up, down), n = up + down;
        double p = n == 0 ? 1 : Math.Min(1, 2 * MathNet.Numerics.Distributions.Binomial.CDF(0.5, n, less));
        double ratio = Math.Exp(Summary.MedianOf(logs));
        return new TestCandidate(CheckIds.ChangedDuringRun, p, Math.Abs(ratio - 1) < LeastChange ? null : () =>
        {
            BcaBootstrap? bca = BcaBootstrap.Of(logs, l => Math.Exp(Summary.MeanOf(l)), seed: StableSeed.Of(key.Text));
            string interval = bca is { } b ? Invariant($", mean ratio {b.Estimate:0.000} [{b.Low:0.000}, {b.High:0.000}] (BCa, seed {b.Seed})") : "";
            return CardChecks.Finding(
                CheckIds.ChangedDuringRun, FindingSeverity.Note,
                Invariant($"{key.TrialText} is {Math.Abs(100 * (ratio - 1)):0.0} % {(ratio < 1 ? "slower" : "faster")} at the end of a run than at its start{interval}."),
                "first trial repeated last: common practice, no source; exact sign test", [.. ratios.Select(r => r.Record)],
                ("runs", Invariant($"{ratios.Count}")));
        });
    }
}
