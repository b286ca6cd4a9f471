using System.Text.Json;

namespace Cardassay.Plans;

/// <summary>Reads the capacity proof that may be the first step of a plan.</summary>
internal static class ProofStepReader
{
    public const string Kind = "capacityProof";

    /// <summary>True when a step is a capacity proof.</summary>
    public static bool IsProof(PlanNode step) =>
        step.Kind == JsonTokenType.StartObject
        && step.Members.Exists(member => member.Name == "kind" && member.Value is { Kind: JsonTokenType.String, Text: Kind });

    /// <summary>The proof of a plan's list of steps.</summary>
    public static PlanProof Read(PlanSource source, PlanNode? steps)
    {
        if (steps is not { Items: [var first, ..] } || !IsProof(first))
        {
            return PlanProof.None;
        }

        var step = new PlanObject(source, first, "kind", "proof");
        return step.OptionalText("proof") switch
        {
            null or "sparse" => PlanProof.Sparse,
            "full" => PlanProof.Full,
            _ => throw step.Wrong("proof", "This is no way to prove a capacity", "Write \"sparse\" or \"full\""),
        };
    }
}
