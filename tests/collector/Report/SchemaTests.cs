using System.Text.Json;
using System.Text.Json.Nodes;
using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Model;
using Json.Schema;

namespace Cardassay.Collector.Tests.Report;

/// <summary>The JSON against its own published schema, by a general validator of JSON Schema 2020-12.</summary>
public class SchemaTests
{
    private static readonly JsonSchema Schema = Load();

    public static TheoryData<string> Models => ["empty", "one", "full"];

    [Theory]
    [MemberData(nameof(Models))]
    public void Json_AnyModel_FollowsTheSchema(string which)
    {
        ReportModel model = which switch { "empty" => ReportModels.Empty(), "one" => ReportModels.Tarrow(cards: 1), _ => ReportModels.Tarrow() };
        AssertValid(JsonReport.Render(model));
    }

    internal static void AssertValid(string json)
    {
        EvaluationResults results = Validate(JsonNode.Parse(json)!);
        Assert.True(results.IsValid, string.Join('\n', (results.Details ?? []).Where(d => d.Errors is { Count: > 0 }).Select(d => $"{d.InstanceLocation}: {string.Join(", ", d.Errors!.Values)}")));
    }

    [Theory]
    [InlineData("verdict", "fine")]
    [InlineData("rank", 3)]
    [InlineData("findings", "none")]
    public void Json_OtherTypesOrWords_AreRefusedByTheSchema(string key, object value)
    {
        JsonNode report = JsonNode.Parse(JsonReport.Render(ReportModels.Tarrow(cards: 1)))!;
        report["cards"]![0]![key] = value is int number ? number : (string)value;

        Assert.False(Validate(report).IsValid);
    }

    [Fact]
    public void Json_ContractKeys_AreThere()
    {
        JsonNode report = JsonNode.Parse(JsonReport.Render(ReportModels.Tarrow()))!;
        JsonNode card = report["cards"]![0]!;
        foreach (string key in (string[])["randomRead", "randomWrite", "sequentialRead", "sequentialWrite"])
        {
            foreach (string part in (string[])["median", "low", "high", "runs", "unit"])
            {
                Assert.NotNull(card["metrics"]![key]![part]);
            }
        }

        Assert.Equal(1, card["rank"]!["best"]!.GetValue<int>());
        Assert.Equal(2, card["rank"]!["worst"]!.GetValue<int>());
        Assert.Equal("T-01", card["tag"]!.GetValue<string>());
        Assert.NotNull(card["identity"]);
        Assert.Equal("not proven", card["verdict"]!.GetValue<string>());
        Assert.Equal(4812, report["integrity"]!["received"]!.GetValue<int>());
        Assert.Equal(0, report["integrity"]!["gaps"]!.GetValue<int>());
        Assert.Equal(1, report["integrity"]!["conflicts"]!.GetValue<int>());
        JsonNode last = report["cards"]![11]!;
        Assert.Null(last["rank"]);
        Assert.Null(last["metrics"]!["randomRead"]);
        Assert.True(last["metrics"]!.AsObject().ContainsKey("randomRead"));
    }

    private static EvaluationResults Validate(JsonNode node) =>
        Schema.Evaluate(JsonSerializer.SerializeToElement(node), new EvaluationOptions { OutputFormat = OutputFormat.List });

    private static JsonSchema Load()
    {
        using Stream stream = typeof(JsonReport).Assembly.GetManifestResourceStream("report.schema.json")!;
        using var reader = new StreamReader(stream);
        return JsonSchema.FromText(reader.ReadToEnd());
    }
}
