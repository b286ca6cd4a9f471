using System.Text.Json.Serialization;
using Cardassay.Plans;
using Cardassay.Trials;
using static System.Text.Json.Serialization.JsonIgnoreCondition;

namespace Cardassay.Agent.Commands;

/// <summary>One trial as JSON. The class and its units are there only where the trial has them.</summary>
internal sealed record TrialJson(
    string Kind,
    long BlockBytes,
    int QueueDepth,
    [property: JsonIgnore(Condition = WhenWritingNull)] string? Class,
    [property: JsonIgnore(Condition = WhenWritingNull)] long? UnitBytes,
    [property: JsonIgnore(Condition = WhenWritingNull)] long? Units,
    [property: JsonIgnore(Condition = WhenWritingNull)] long? LeftOutUnits,
    [property: JsonIgnore(Condition = WhenWritingNull)] long? CountedUnitBytes,
    [property: JsonIgnore(Condition = WhenWritingNull)] long? SlowestUnitNs,
    [property: JsonIgnore(Condition = WhenWritingNull)] long? FastestUnitNs,
    double Figure, string Unit, long Operations, long Bytes, long ElapsedNs, double OperationsPerSecond, double BytesPerSecond, TrialJson.Percentiles LatencyNs,
    bool Valid, IReadOnlyList<string> Reasons, TrialRole Role, int Repetition, bool ContentKnown, long StallCount, long StallLimitNs)
{
    internal static TrialJson Of(TrialMeasured t)
    {
        TrialMeasured? units = t.Kind == TrialKind.ClassWrite ? t : null;
        LatencyHistogram latency = t.Latency;
        return new TrialJson(
            TrialKinds.NameOf(t.Kind), t.BlockBytes, t.QueueDepth, t.Standard == ClassStandard.None ? null : ClassConditions.NameOf(t.Standard),
            units?.SegmentBytes, units?.Units, units?.LeftOutUnits, units?.CountedUnitBytes, units?.SlowestUnitNs, units?.FastestUnitNs,
            TrialFigure.Of(t), TrialFigure.UnitOf(t.Kind), t.Operations, t.Bytes, t.ElapsedNs, t.OperationsPerSecond, t.BytesPerSecond,
            new(latency.PercentileNs(50), latency.PercentileNs(90), latency.PercentileNs(99), latency.PercentileNs(99.9), latency.Count == 0 ? null : latency.MaxNs),
            t.Valid, t.Reasons, t.Role, t.Repetition, t.ContentKnown, t.StallCount, t.StallLimitNs);
    }

    internal sealed record Percentiles(long? P50, long? P90, long? P99, long? P999, long? Max);
}
