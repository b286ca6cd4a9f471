using System.Text.Json;

namespace Cardassay.Collector.Exchange.Tables;

/// <summary>An export as JSON; its schema is export.schema.json beside this file. Unknown is null.</summary>
internal static class ExportJson
{
    /// <summary>Bytes that may wait in memory before they are handed on.</summary>
    private const int WaitingBytes = 64 * 1024;

    /// <summary>Writes the table row by row.</summary>
    /// <param name="to">Where; it stays open.</param>
    /// <param name="asOfUtc">The time the figures speak of.</param>
    /// <param name="rows">The figures.</param>
    internal static void Write(Stream to, string asOfUtc, IEnumerable<ExportRow> rows)
    {
        using (var json = new Utf8JsonWriter(to, new JsonWriterOptions { Indented = true }))
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
                if (json.BytesPending > WaitingBytes)
                {
                    json.Flush();
                }
            }

            json.WriteEndArray();
            json.WriteEndObject();
        }

        to.WriteByte((byte)'\n');
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
