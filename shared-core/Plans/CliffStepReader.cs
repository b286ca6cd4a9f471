using System.Text.Json;
using Cardassay.Json;

namespace Cardassay.Plans;

/// <summary>Reads the long write that may be the first step of a plan.</summary>
internal static class CliffStepReader
{
    private const string Kind = "cliff";
    private const long MostBytes = 1L << 44;

    /// <summary>True when a step is such a write.</summary>
    public static bool IsCliff(JsonValue step) =>
        step.Kind == JsonTokenType.StartObject
        && step.Members.Exists(member => member.Name == "kind" && member.Value is { Kind: JsonTokenType.String, Text: Kind });

    /// <summary>The long write of a plan's list of steps; null when it does not begin with one.</summary>
    public static PlanCliff? Read(PlanSource source, JsonValue? steps)
    {
        if (steps is not { Items: [var first, ..] } || !IsCliff(first))
        {
            return null;
        }

        var step = new PlanObject(source, first, "kind", "bytes", "percent", "restSeconds", "recoveryBytes", "seconds");
        return new PlanCliff(
            step.Bytes("bytes", PlanRange.AlignBytes, MostBytes, 1) ?? PlanCliff.DefaultBytes,
            step.Number("percent", 0.001, 90) ?? PlanCliff.DefaultPercent,
            step.Number("restSeconds", 0, 3_600) ?? PlanCliff.DefaultRestSeconds,
            step.Bytes("recoveryBytes", 0, MostBytes, 1) ?? PlanCliff.DefaultRecoveryBytes,
            step.Number("seconds", 1, 86_400) ?? PlanCliff.DefaultSeconds);
    }
}
