using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Statistics;
using Cardassay.Collector.Report.Model;
using Cardassay.Trials;

namespace Cardassay.Collector.Report.Building;

/// <summary>Latency and throughput over time, from the trials whose figures count.</summary>
internal static class LatencyBuilder
{
    private const int TracesShown = 12;
    private const int CurvePoints = 48;
    private static readonly (string Name, double Percent)[] Percentiles = [("p50", 50), ("p90", 90), ("p99", 99), ("p99.9", 99.9)];

    /// <summary>One line per trial kind, from the leading series of the kind. Sequential kinds are left out: one large block hides what a system disk waits for.</summary>
    public static IReadOnlyList<ReportLatency> Latencies(CardTrials trials, IEnumerable<MetricSummary> series) =>
    [
        .. MetricBuilder.Leading(series).Where(s => TrialKinds.CountsOperations(s.Kind)).SelectMany(s => OfKind(s.Kind, trials.Of(s))),
    ];

    /// <summary>Second by second, for the kinds that write: there a card's cache runs out and its housekeeping begins.</summary>
    public static IReadOnlyList<ReportTimeline> Timelines(CardTrials trials, IEnumerable<MetricSummary> series) =>
    [
        .. MetricBuilder.Leading(series).Where(s => TrialKinds.ShowsTimeline(s.Kind)).Select(s => Timeline(s, trials.Of(s))).OfType<ReportTimeline>(),
    ];

    // Reads and writes have limits of their own, and a card that is quick at one may be slow at the other: one distribution would hide it.
    private static IEnumerable<ReportLatency> OfKind(TrialKind kind, TrialMeasured[] trials)
    {
        if (!trials.Any(t => t.ReadLatency is not null))
        {
            return Latency(NameOf(kind, null), trials, t => t.Latency, t => t.StallCount, trials.Length == 0 ? 0 : trials.Max(t => t.StallLimitNs));
        }

        TrialMeasured[] apart = [.. trials.Where(t => t.ReadLatency is not null)];
        return
        [
            .. Latency(NameOf(kind, true), apart, t => t.ReadLatency!, t => t.ReadLatency!.CountAbove(t.ReadStallLimitNs), apart.Max(t => t.ReadStallLimitNs)),
            .. Latency(NameOf(kind, false), apart, Writes, t => Writes(t).CountAbove(t.StallLimitNs), apart.Max(t => t.StallLimitNs)),
        ];
    }

    /// <summary>Name of a distribution.</summary>
    /// <param name="kind">Trial kind.</param>
    /// <param name="isRead">Of reads or of writes that were counted apart; null for all operations.</param>
    public static string NameOf(TrialKind kind, bool? isRead) =>
        MetricBuilder.Name(kind) + isRead switch { true => ", reads", false => ", writes", null => "" };

    private static LatencyHistogram Writes(TrialMeasured trial) => trial.Latency.Without(trial.ReadLatency!);

    private static IEnumerable<ReportLatency> Latency(
        string name, TrialMeasured[] trials, Func<TrialMeasured, LatencyHistogram> histogram, Func<TrialMeasured, long> stalls, long limitNs)
    {
        var all = new LatencyHistogram();
        foreach (TrialMeasured trial in trials)
        {
            all.Merge(histogram(trial));
        }

        if (all.Count == 0)
        {
            yield break;
        }

        yield return new ReportLatency
        {
            Name = name,
            Operations = all.Count,
            Percentiles = [.. Percentiles.Select(p => new LatencyPercentile(p.Name, all.PercentileNs(p.Percent) is long ns ? Ms(ns) : null))],
            MaxMs = Ms(all.MaxNs),
            Stalls = trials.Sum(stalls),
            StallLimitMs = limitNs > 0 ? Figure.Of(limitNs / 1e6, 0) : null,
            Shares = Shares(all),
        };
    }

    /// <summary>Milliseconds as printed.</summary>
    public static Figure Ms(long ns) => ns < 1_000_000 ? Figure.Of(ns / 1e6, 3) : Figure.Of(ns / 1e6);

    private static LatencyShare[] Shares(LatencyHistogram histogram)
    {
        List<LatencyShare> all = [];
        long done = 0;
        foreach ((long ns, long count) in histogram.Buckets())
        {
            done += count;
            all.Add(new LatencyShare(ns / 1e6, (double)(histogram.Count - done) / histogram.Count));
        }

        // The last bucket leaves nothing above it, which a logarithmic axis cannot show: it ends the line at one operation in all of them.
        all[^1] = all[^1] with { Slower = 1.0 / histogram.Count };
        if (all.Count <= CurvePoints)
        {
            return [.. all];
        }

        // Even steps of both logarithms keep the rare, slow end, where even steps of the index would drop it.
        double span = Math.Log(all[^1].Ms / all[0].Ms) + Math.Log(all[0].Slower / all[^1].Slower);
        List<LatencyShare> kept = [all[0]];
        foreach (LatencyShare share in all)
        {
            double step = Math.Abs(Math.Log(share.Ms / kept[^1].Ms)) + Math.Abs(Math.Log(share.Slower / kept[^1].Slower));
            if (step >= span / CurvePoints)
            {
                kept.Add(share);
            }
        }

        if (kept[^1] != all[^1])
        {
            kept.Add(all[^1]);
        }

        return [.. kept];
    }

    private static ReportTimeline? Timeline(MetricSummary series, TrialMeasured[] trials)
    {
        TrialMeasured[] shown = [.. trials.Where(t => t.Timeline.Count > 1).TakeLast(TracesShown)];
        if (shown.Length == 0)
        {
            return null;
        }

        bool bytes = !TrialKinds.CountsOperations(series.Kind);
        TrialMeasured typical = shown.MinBy(t => Math.Abs(TrialFigure.Of(t) - series.Median))!;
        TimelineTrace[] traces = [.. shown.Select(t => new TimelineTrace(ReferenceEquals(t, typical), Values(t, bytes)))];
        double[] values = [.. traces.First(t => t.Typical).Values];
        int decimals = Figure.DecimalsFor(series.Median);
        string Print(double value) => Figure.Of(value, decimals).Text;
        string text = $"Typical trial: {Print(values[0])} {series.Unit} in the first second, {Print(values[^1])} in the last of {Wording.Number(values.Length)}, lowest {Print(values.Min())}, highest {Print(values.Max())}.";
        TimelineLevel[] levels = Levels(values, decimals);
        if (levels.Length > 1)
        {
            text += " Its level shifts: " + string.Join(", then ", levels.Select(l => $"{l.Mean.Text} {series.Unit} in seconds {Wording.Number(l.FromSecond)} to {Wording.Number(l.ToSecond)}")) + ".";
        }

        return new ReportTimeline(MetricBuilder.Name(series.Kind), series.Unit, traces, text) { Levels = levels };
    }

    private static TimelineLevel[] Levels(double[] values, int decimals)
    {
        int[] bounds = [0, .. LevelShifts.Of(values), values.Length];
        return [.. bounds.Zip(bounds.Skip(1), (from, to) => new TimelineLevel(from + 1, to, Figure.Of(values.Skip(from).Take(to - from).Average(), decimals)))];
    }

    // The last second is cut short by the end of the trial and would look like a stall.
    private static double[] Values(TrialMeasured trial, bool bytes)
    {
        int whole = Math.Clamp((int)(trial.ElapsedNs / 1_000_000_000), 1, trial.Timeline.Count);
        return [.. trial.Timeline.Take(whole).Select(s => bytes ? s.Bytes / 1e6 : s.Operations)];
    }
}
