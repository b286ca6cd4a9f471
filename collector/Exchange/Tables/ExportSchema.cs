using System.Text;
using System.Text.Json;

namespace Cardassay.Collector.Exchange.Tables;

/// <summary>What the columns of an export hold, as JSON Schema (draft 2020-12): it describes the JSON, and names unit and meaning for CSV and Parquet too.</summary>
internal static class ExportSchema
{
    /// <summary>The schema of the tables.</summary>
    internal static string Of(IReadOnlyList<ExportTable> tables)
    {
        using var buffer = new MemoryStream();
        using (var json = new Utf8JsonWriter(buffer, new JsonWriterOptions { Indented = true, Encoder = System.Text.Encodings.Web.JavaScriptEncoder.UnsafeRelaxedJsonEscaping }))
        {
            json.WriteStartObject();
            json.WriteString("$schema", "https://json-schema.org/draft/2020-12/schema");
            json.WriteString("title", "Data set of SD card measurements written by `export`");
            json.WriteString("description", "Null means unknown.");
            json.WriteString("type", "object");
            json.WriteBoolean("additionalProperties", false);
            Strings(json, "required", ["format", "version", "asOf", .. tables.Select(t => t.Name)]);
            json.WriteStartObject("properties");
            json.WriteStartObject("format");
            json.WriteString("const", ExportJson.Format);
            json.WriteEndObject();
            json.WriteStartObject("version");
            json.WriteNumber("const", ExportJson.Version);
            json.WriteEndObject();
            json.WriteStartObject("asOf");
            json.WriteString("type", "string");
            json.WriteString("format", "date-time");
            json.WriteString("description", "Time of the newest entry exported.");
            json.WriteEndObject();
            foreach (ExportTable table in tables)
            {
                Write(json, table);
            }

            json.WriteEndObject();
            json.WriteEndObject();
        }

        return Encoding.UTF8.GetString(buffer.ToArray()) + "\n";
    }

    private static void Write(Utf8JsonWriter json, ExportTable table)
    {
        json.WriteStartObject(table.Name);
        json.WriteString("description", table.Meaning);
        json.WriteString("type", "array");
        json.WriteStartObject("items");
        json.WriteString("type", "object");
        json.WriteBoolean("additionalProperties", false);
        Strings(json, "required", table.Columns.Select(c => c.Name));
        json.WriteStartObject("properties");
        foreach (ExportColumn column in table.Columns)
        {
            json.WriteStartObject(column.Name);
            string type = column.Type switch { ColumnType.Whole => "integer", ColumnType.Number => "number", ColumnType.Flag => "boolean", _ => "string" };
            if (column.Type == ColumnType.Flag)
            {
                json.WriteString("type", type);
            }
            else
            {
                Strings(json, "type", [type, "null"]);
            }

            if (column.Type is ColumnType.Day or ColumnType.Moment)
            {
                json.WriteString("format", column.Type == ColumnType.Day ? "date" : "date-time");
            }

            json.WriteString("description", column.Meaning + (column.Unit.Length > 0 ? $" Unit: {column.Unit}." : ""));
            json.WriteEndObject();
        }

        json.WriteEndObject();
        json.WriteEndObject();
        json.WriteEndObject();
    }

    private static void Strings(Utf8JsonWriter json, string name, IEnumerable<string> values)
    {
        json.WriteStartArray(name);
        foreach (string value in values)
        {
            json.WriteStringValue(value);
        }

        json.WriteEndArray();
    }
}
