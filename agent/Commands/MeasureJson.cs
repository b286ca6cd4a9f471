using System.Text;
using System.Text.Json;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>The result of one run as JSON. Numbers are numbers; what is not known is null.</summary>
internal static class MeasureJson
{
    internal static string Render(RunResult result, string? tag)
    {
        using var buffer = new MemoryStream();
        using (var json = new Utf8JsonWriter(buffer, new JsonWriterOptions { Indented = true }))
        {
            json.WriteStartObject();
            json.WriteString("run", result.RunId.ToString());
            json.WriteString("target", result.Target.Path);
            json.WriteString("targetKind", result.Target.Kind == TargetKind.Device ? "device" : "folder");
            json.WriteString("identity", result.Card?.Identity.Text);
            json.WriteBoolean("identityFromRegisters", result.Card?.Identity.FromRegisters ?? false);
            json.WriteString("tag", tag);
            json.WriteString("outcome", JsonNamingPolicy.CamelCase.ConvertName(result.Summary.Outcome.ToString()));
            json.WriteString("reason", result.Summary.Reason);
            json.WriteNumber("bytesWritten", result.Summary.BytesWritten);
            json.WriteStartArray("notes");
            foreach (string note in result.Summary.Notes)
            {
                json.WriteStringValue(note);
            }

            json.WriteEndArray();
            json.WriteStartArray("marks");
            foreach (Identity.MarkJudgement mark in ClassMarks.Of(result))
            {
                json.WriteStartObject();
                json.WriteString("mark", mark.Mark);
                json.WriteString("outcome", mark.Outcome);
                json.WriteString("statement", mark.Statement);
                json.WriteString("text", mark.Text);
                json.WriteEndObject();
            }

            json.WriteEndArray();
            json.WriteStartArray("trials");
            foreach (TrialMeasured trial in result.Trials)
            {
                Write(json, trial);
            }

            json.WriteEndArray();
            json.WriteEndObject();
        }

        return Encoding.UTF8.GetString(buffer.ToArray());
    }

    private static void Write(Utf8JsonWriter json, TrialMeasured trial)
    {
        json.WriteStartObject();
        json.WriteString("kind", TrialKinds.NameOf(trial.Kind));
        json.WriteNumber("blockBytes", trial.BlockBytes);
        json.WriteNumber("queueDepth", trial.QueueDepth);
        if (trial.Standard != ClassStandard.None)
        {
            json.WriteString("class", ClassConditions.NameOf(trial.Standard));
        }

        if (trial.Kind == TrialKind.ClassWrite)
        {
            json.WriteNumber("unitBytes", trial.SegmentBytes);
            json.WriteNumber("units", trial.Units);
            json.WriteNumber("leftOutUnits", trial.LeftOutUnits);
            json.WriteNumber("countedUnitBytes", trial.CountedUnitBytes);
            json.WriteNumber("slowestUnitNs", trial.SlowestUnitNs);
            json.WriteNumber("fastestUnitNs", trial.FastestUnitNs);
        }

        json.WriteNumber("figure", TrialFigure.Of(trial));
        json.WriteString("unit", TrialFigure.UnitOf(trial.Kind));
        json.WriteNumber("operations", trial.Operations);
        json.WriteNumber("bytes", trial.Bytes);
        json.WriteNumber("elapsedNs", trial.ElapsedNs);
        json.WriteNumber("operationsPerSecond", trial.OperationsPerSecond);
        json.WriteNumber("bytesPerSecond", trial.BytesPerSecond);
        json.WriteStartObject("latencyNs");
        Percentile(json, "p50", trial.Latency.PercentileNs(50));
        Percentile(json, "p90", trial.Latency.PercentileNs(90));
        Percentile(json, "p99", trial.Latency.PercentileNs(99));
        Percentile(json, "p999", trial.Latency.PercentileNs(99.9));
        Percentile(json, "max", trial.Latency.Count == 0 ? null : trial.Latency.MaxNs);
        json.WriteEndObject();
        json.WriteBoolean("valid", trial.Valid);
        json.WriteStartArray("reasons");
        foreach (string reason in trial.Reasons)
        {
            json.WriteStringValue(reason);
        }

        json.WriteEndArray();
        json.WriteString("role", JsonNamingPolicy.CamelCase.ConvertName(trial.Role.ToString()));
        json.WriteNumber("repetition", trial.Repetition);
        json.WriteBoolean("contentKnown", trial.ContentKnown);
        json.WriteNumber("stallCount", trial.StallCount);
        json.WriteNumber("stallLimitNs", trial.StallLimitNs);
        json.WriteEndObject();
    }

    private static void Percentile(Utf8JsonWriter json, string name, long? ns)
    {
        if (ns is { } value)
        {
            json.WriteNumber(name, value);
        }
        else
        {
            json.WriteNull(name);
        }
    }
}
