using System.Text.Json;
using Cardassay.Json;

namespace Cardassay.Plans;

/// <summary>Reads the capacity proof that may be the first step of a plan.</summary>
internal static class ProofStepReader
{
    public const string Kind = "capacityProof";

    /// <summary>True when a step is a capacity proof.</summary>
    public static bool IsProof(JsonValue step) =>
        step.Kind == JsonTokenType.StartObject
        && step.Members.Exists(member => member.Name == "kind" && member.Value is { Kind: JsonTokenType.String, Text: Kind });

    /// <summary>The proof of a plan's list of steps.</summary>
    public static PlanProof Read(PlanSource source, JsonValue? steps)
    {
        // Only a long write comes before it: it needs space that nothing of the run has written.
        List<JsonValue> left = steps is { Items: [var cliff, ..] } && CliffStepReader.IsCliff(cliff)
            ? [.. steps.Items.Skip(1)]
            : [.. steps?.Items ?? []];
        if (left is not [var first, ..] || !IsProof(first))
        {
            return PlanProof.None;
        }

        var step = new PlanObject(source, first, "kind", "proof", "minutes", "onFolder", "once");
        double? minutes = step.Number("minutes", PlanProof.LeastMinutes, PlanProof.MostMinutes);
        PlanProofKind kind = step.OptionalText("proof") switch
        {
            null or "sparse" => PlanProofKind.Sparse,
            "full" when minutes is not null => throw step.Wrong("minutes", "A full proof takes as long as it takes",
                "Leave out \"minutes\", or write \"proof\": \"sparse\""),
            "full" => PlanProofKind.Full,
            _ => throw step.Wrong("proof", "This is no way to prove a capacity", "Write \"sparse\" or \"full\""),
        };
        bool skipsFolders = step.OptionalText("onFolder") switch
        {
            null or "refuse" => false,
            "skip" => true,
            _ => throw step.Wrong("onFolder", "This is nothing to do about a folder", "Write \"refuse\" or \"skip\""),
        };
        bool once = step.Flag("once", otherwise: false);
        if (steps!.Items.Count == 1 && (once || skipsFolders))
        {
            throw step.Wrong(once ? "once" : "onFolder", "Without its proof this plan does nothing",
                "Leave it out, or add a step to measure");
        }

        return new PlanProof(kind, minutes, skipsFolders, once);
    }
}
