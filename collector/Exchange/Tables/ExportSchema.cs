using System.Text.Encodings.Web;
using System.Text.Json;
using System.Text.Json.Nodes;

namespace Cardassay.Collector.Exchange.Tables;

/// <summary>What the columns of an export hold, as JSON Schema (draft 2020-12): it describes the JSON, and names unit and meaning for CSV and Parquet too.</summary>
internal static class ExportSchema
{
    private static readonly JsonSerializerOptions Options = new() { WriteIndented = true, Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    /// <summary>The schema of the tables.</summary>
    internal static string Of(IReadOnlyList<ExportTable> tables)
    {
        var head = new JsonObject
        {
            ["$schema"] = "https://json-schema.org/draft/2020-12/schema",
            ["title"] = "Data set of SD card measurements written by `export`",
            ["description"] = "Null means unknown.",
        };
        return WithMembers(head, [
            ("format", new() { ["const"] = ExportJson.Format }),
            ("version", new() { ["const"] = ExportJson.Version }),
            ("asOf", new() { ["type"] = "string", ["format"] = "date-time", ["description"] = "Time of the newest entry exported." }),
            .. tables.Select(t => (t.Name, Table(t))),
        ]).ToJsonString(Options) + "\n";
    }

    private static JsonObject Table(ExportTable table) => new()
    {
        ["description"] = table.Meaning, ["type"] = "array", ["items"] = WithMembers(new(), [.. table.Columns.Select(c => (c.Name, Column(c)))]),
    };

    private static JsonObject Column(ExportColumn column)
    {
        string type = column.Type switch { ColumnType.Whole => "integer", ColumnType.Number => "number", ColumnType.Flag => "boolean", _ => "string" };
        var schema = new JsonObject { ["type"] = column.Type == ColumnType.Flag ? type : new JsonArray(type, "null") };
        if (column.Type is ColumnType.Day or ColumnType.Moment)
        {
            schema["format"] = column.Type == ColumnType.Day ? "date" : "date-time";
        }

        schema["description"] = column.Meaning + (column.Unit.Length > 0 ? $" Unit: {column.Unit}." : "");
        return schema;
    }

    /// <summary>Makes it the schema of an object that has these members and no other.</summary>
    private static JsonObject WithMembers(JsonObject schema, IReadOnlyList<(string Name, JsonObject Schema)> members)
    {
        schema["type"] = "object";
        schema["additionalProperties"] = false;
        schema["required"] = new JsonArray([.. members.Select(m => JsonValue.Create(m.Name))]);
        schema["properties"] = new JsonObject(members.Select(m => KeyValuePair.Create(m.Name, (JsonNode?)m.Schema)));
        return schema;
    }
}
