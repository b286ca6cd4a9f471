using System.Text.Json;

namespace Cardassay.Collector.Exchange.Tables;

/// <summary>An export as JSON; its schema is export.schema.json beside this file. Unknown is null.</summary>
internal static class ExportJson
{
    internal static byte[] Render(string asOfUtc, IEnumerable<ExportRow> rows)
    {
        using var buffer = new MemoryStream();
        using (var json = new Utf8JsonWriter(buffer, new JsonWriterOptions { Indented = true }))
        {
            json.WriteStartObject();
            json.WriteString("format", "cardassay-figures");
            json.WriteNumber("version", 1);
            json.WriteString("asOf", asOfUtc);
            json.WriteStartArray("figures");
            foreach (ExportRow row in rows)
            {
                json.WriteStartObject();
                foreach (ExportColumn column in ExportColumns.All)
                {
                    json.WritePropertyName(column.Name);
                    Write(json, column.Value(row));
                }

                json.WriteEndObject();
            }

            json.WriteEndArray();
            json.WriteEndObject();
        }

        buffer.WriteByte((byte)'\n');
        return buffer.ToArray();
    }

    private static void Write(Utf8JsonWriter json, object? value)
    {
        switch (value)
        {
            case string text:
                json.WriteStringValue(text);
                break;
            case bool flag:
                json.WriteBooleanValue(flag);
                break;
            case long whole:
                json.WriteNumberValue(whole);
                break;
            case double number when double.IsFinite(number):
                json.WriteNumberValue(number);
                break;
            default:
                json.WriteNullValue();
                break;
        }
    }
}
