using System.Text.Json;
using Cardassay.Plans;
using Cardassay.Trials;
using Json.Schema;

namespace Cardassay.SharedCore.Tests.Plans;

/// <summary>The published schema against the reader, judged by a general JSON Schema library.</summary>
public sealed class PlanSchemaTests
{
    private static readonly JsonSchema Schema = JsonSchema.FromText(BuiltInPlans.SchemaText);

    private static readonly JsonDocumentOptions Lenient = new() { CommentHandling = JsonCommentHandling.Skip, AllowTrailingCommas = true };

    [Fact]
    public void BuiltInPlans_All_AreReadAndAgreeWithTheSchema()
    {
        foreach (string name in BuiltInPlans.Names)
        {
            Plan plan = BuiltInPlans.Find(name)!;
            Assert.Equal(name, plan.Name);
            Assert.True(AgreesWithSchema(plan.Text), name);
        }
    }

    // What the schema can say, it and the reader say alike. (Sums and comparisons between keys only the reader knows.)
    [Theory]
    [InlineData("""{ "kind": "randomRead", "seconds": 1 }""", true)]
    [InlineData("""{ "kind": "randomWrite", "seconds": 1 }""", false)]
    [InlineData("""{ "kind": "randomWrite", "seconds": 1, "bytes": "1 MiB" }""", true)]
    [InlineData("""{ "kind": "randomWrite", "seconds": 1, "bytes": "1 MB" }""", false)]
    [InlineData("""{ "kind": "randomRead", "seconds": 0 }""", false)]
    [InlineData("""{ "kind": "randomRead" }""", false)]
    [InlineData("""{ "kind": "unknown", "seconds": 1 }""", false)]
    [InlineData("""{ "kind": "randomRead", "seconds": 1, "queueDepth": 65 }""", false)]
    [InlineData("""{ "kind": "randomRead", "seconds": 1, "extra": 1 }""", false)]
    [InlineData("""{ "kind": "randomRead", "seconds": 1, "range": { "percent": 50 } }""", true)]
    [InlineData("""{ "kind": "randomRead", "seconds": 1, "range": { "percent": 50, "bytes": "1 MiB" } }""", false)]
    [InlineData("""{ "kind": "randomRead", "seconds": 1, "range": { "startPercent": 5, "startBytes": 0, "percent": 50 } }""", false)]
    [InlineData("""{ "kind": "randomRead", "seconds": 1, "repetitions": 2 }""", true)]
    [InlineData("""{ "kind": "classWrite", "class": "video", "seconds": 1, "bytes": "8 MiB" }""", true)]
    [InlineData("""{ "kind": "classWrite", "class": "video", "seconds": 1 }""", false)]
    [InlineData("""{ "kind": "classWrite", "seconds": 1, "bytes": "8 MiB" }""", false)]
    [InlineData("""{ "kind": "classWrite", "class": "V30", "seconds": 1, "bytes": "8 MiB" }""", false)]
    [InlineData("""{ "kind": "classWrite", "class": "speed", "seconds": 1, "bytes": "8 MiB", "blockBytes": "1 MiB" }""", false)]
    [InlineData("""{ "kind": "classWrite", "class": "uhs", "seconds": 1, "bytes": "8 MiB", "queueDepth": 2 }""", false)]
    [InlineData("""{ "kind": "classRandomRead", "class": "application", "seconds": 1 }""", true)]
    [InlineData("""{ "kind": "classRandomRead", "class": "uhs", "seconds": 1 }""", false)]
    [InlineData("""{ "kind": "classRandomWrite", "class": "application", "seconds": 1, "bytes": "8 MiB", "range": { "percent": 50 } }""", false)]
    [InlineData("""{ "kind": "randomRead", "class": "application", "seconds": 1 }""", false)]
    [InlineData("""{ "kind": "capacityProof" }""", true)]
    [InlineData("""{ "kind": "capacityProof", "proof": "full" }, { "kind": "randomRead", "seconds": 1 }""", true)]
    [InlineData("""{ "kind": "capacityProof", "minutes": 5, "once": true, "onFolder": "skip" }, { "kind": "randomRead", "seconds": 1 }""", true)]
    [InlineData("""{ "kind": "capacityProof", "once": true }""", false)] // without the proof nothing would be left
    [InlineData("""{ "kind": "capacityProof", "onFolder": "skip" }""", false)]
    [InlineData("""{ "kind": "capacityProof", "once": 1 }, { "kind": "randomRead", "seconds": 1 }""", false)]
    [InlineData("""{ "kind": "randomRead", "seconds": 1, "once": true }""", false)]
    [InlineData("""{ "kind": "capacityProof", "proof": "half" }""", false)]
    [InlineData("""{ "kind": "capacityProof", "seconds": 1 }""", false)]
    [InlineData("""{ "kind": "randomRead", "seconds": 1 }, { "kind": "capacityProof" }""", false)]
    [InlineData("""{ "kind": "capacityProof" }, { "kind": "capacityProof" }""", false)]
    [InlineData("""{ "kind": "randomWrite", "seconds": 1, "bytes": "8 MiB", "untilSteady": 30 }""", true)]
    [InlineData("""{ "kind": "randomWrite", "seconds": 1, "bytes": "8 MiB", "untilSteady": 4 }""", false)]
    [InlineData("""{ "kind": "randomRead", "seconds": 1, "untilSteady": 30 }""", false)]
    [InlineData("""{ "kind": "mixed", "seconds": 1, "bytes": "8 MiB", "untilSteady": 30 }""", false)]
    [InlineData("""{ "kind": "cliff" }""", true)]
    [InlineData("""{ "kind": "cliff", "bytes": "1 GiB", "percent": 10, "restSeconds": 0, "recoveryBytes": 0, "seconds": 60 }, { "kind": "capacityProof", "once": true }, { "kind": "randomRead", "seconds": 1 }""", true)]
    [InlineData("""{ "kind": "cliff", "percent": 91 }""", false)]
    [InlineData("""{ "kind": "cliff", "blockBytes": "1 MiB" }""", false)]
    [InlineData("""{ "kind": "cliff" }, { "kind": "cliff" }""", false)]
    [InlineData("""{ "kind": "randomRead", "seconds": 1 }, { "kind": "cliff" }""", false)]
    [InlineData("""{ "kind": "capacityProof" }, { "kind": "cliff" }""", false)]
    [InlineData("""{ "kind": "randomRead", "seconds": 1 }, { "kind": "cliff", "seconds": 10, "bytes": "1 GiB" }""", false)]
    public void Steps_GoodAndBad_AreJudgedAlike(string step, bool isGood)
    {
        string text = $$"""{ "name": "a", "version": "1", "steps": [ {{step}} ] }""";
        Assert.Equal(isGood, AgreesWithSchema(text));
        Assert.Equal(isGood, Record.Exception(() => PlanReader.Parse(text, "x")) is null);
    }

    [Theory]
    [InlineData("""{ "maxCapacities": 1.5 }""", true)]
    [InlineData("""{ "maxCapacities": 0 }""", false)]
    [InlineData("""{ "maxCapacities": "1.5" }""", false)]
    [InlineData("""{ "maxCards": 1.5 }""", false)]
    public void Limits_GoodAndBad_AreJudgedAlike(string limits, bool isGood)
    {
        string text = $$"""{ "name": "a", "version": "1", "limits": {{limits}}, "steps": [ { "kind": "randomRead", "seconds": 1 } ] }""";
        Assert.Equal(isGood, AgreesWithSchema(text));
        Assert.Equal(isGood, Record.Exception(() => PlanReader.Parse(text, "x")) is null);
    }

    [Fact]
    public void Schema_Kinds_AreThoseOfTheReader()
    {
        using JsonDocument schema = JsonDocument.Parse(BuiltInPlans.SchemaText);
        IEnumerable<string?> kinds = schema.RootElement.GetProperty("$defs").GetProperty("step").GetProperty("properties").GetProperty("kind").GetProperty("enum")
            .EnumerateArray().Select(kind => kind.GetString());
        Assert.Equal(TrialKinds.Names.Order(StringComparer.Ordinal), kinds.Order(StringComparer.Ordinal));
        Assert.Equal(Enum.GetValues<TrialKind>().Length - 1, TrialKinds.Names.Count);
    }

    [Fact]
    public void Find_UnknownName_IsNull() => Assert.Null(BuiltInPlans.Find("plan.schema"));

    private static bool AgreesWithSchema(string text)
    {
        using JsonDocument document = JsonDocument.Parse(text, Lenient);
        return Schema.Evaluate(document.RootElement).IsValid;
    }
}
