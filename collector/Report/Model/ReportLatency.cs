using System.Text.Json.Serialization;

namespace Cardassay.Collector.Report.Model;

/// <summary>How long operations of one kind took, all counted trials together.</summary>
public sealed record ReportLatency
{
    /// <summary>Name of the trial kind.</summary>
    public required string Name { get; init; }

    /// <summary>Operations behind it.</summary>
    public long Operations { get; init; }

    /// <summary>Percentiles as printed in ms: p50, p90, p99, p99.9; "n/a" where too few operations were recorded.</summary>
    internal IReadOnlyList<LatencyPercentile> Percentiles { get; init; } = [];

    /// <summary>Longest operation, ms.</summary>
    [JsonIgnore]
    public required Figure MaxMs { get; init; }

    /// <summary>Percentiles by name, then "max", ms.</summary>
    public IReadOnlyDictionary<string, Figure?> Ms =>
        new OrderedDictionary<string, Figure?>(Percentiles.Select(p => KeyValuePair.Create(p.Name, p.Ms))) { ["max"] = MaxMs };

    /// <summary>Operations longer than the limit the trials watched for.</summary>
    public long Stalls { get; init; }

    /// <summary>That limit, ms; null when none was watched for.</summary>
    public Figure? StallLimitMs { get; init; }

    /// <summary>Share of operations slower than a time, falling; for the chart.</summary>
    internal IReadOnlyList<LatencyShare> Shares { get; init; } = [];
}

/// <summary>One percentile.</summary>
/// <param name="Name">"p99.9".</param>
/// <param name="Ms">Milliseconds, or null when n is too small for it.</param>
public sealed record LatencyPercentile(string Name, Figure? Ms)
{
    /// <summary>The figure, or "n/a".</summary>
    internal string Text => Ms?.Text ?? "n/a";
}

/// <summary>A point of the latency distribution.</summary>
/// <param name="Ms">Time, ms.</param>
/// <param name="Slower">Share of operations that took longer, 0 to 1.</param>
public readonly record struct LatencyShare(double Ms, double Slower);

/// <summary>Throughput of one trial kind second by second.</summary>
/// <param name="Name">Name of the trial kind.</param>
/// <param name="Unit">Unit of the values.</param>
/// <param name="Traces">One trace per trial; the one nearest to the median is marked.</param>
/// <param name="Text">What the chart shows, as a sentence.</param>
public sealed record ReportTimeline(string Name, string Unit, [property: JsonIgnore] IReadOnlyList<TimelineTrace> Traces, string Text)
{
    /// <summary>Levels of the typical trial, first to last; a single one when no change is large enough.</summary>
    public IReadOnlyList<TimelineLevel> Levels { get; init; } = [];
}

/// <summary>A stretch of a trial at one level.</summary>
/// <param name="FromSecond">First second, from 1.</param>
/// <param name="ToSecond">Last second.</param>
/// <param name="Mean">Mean of the stretch, in the unit of the timeline.</param>
public sealed record TimelineLevel(int FromSecond, int ToSecond, Figure Mean);

/// <summary>One trial second by second.</summary>
/// <param name="Typical">True for the trial nearest to the median.</param>
/// <param name="Values">Value of each second, from the first.</param>
public sealed record TimelineTrace(bool Typical, IReadOnlyList<double> Values);
