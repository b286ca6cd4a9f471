using System.Globalization;
using System.Text.Json;

namespace Cardassay.Collector.Exchange.Tables;

/// <summary>The data set as one JSON object; <see cref="ExportSchema"/> describes it. Unknown is null.</summary>
internal static class ExportJson
{
    internal const string Format = "cardassay-data-set";
    internal const int Version = 2;

    /// <summary>Bytes that may wait in memory before they are handed on.</summary>
    private const int WaitingBytes = 64 * 1024;

    /// <summary>Writes the tables row by row.</summary>
    /// <param name="to">Where; it stays open.</param>
    /// <param name="asOf">The time the figures speak of.</param>
    /// <param name="tables">The tables.</param>
    internal static void Write(Stream to, DateTimeOffset asOf, IEnumerable<ExportTable> tables)
    {
        using (var json = new Utf8JsonWriter(to, new JsonWriterOptions { Indented = true }))
        {
            json.WriteStartObject();
            json.WriteString("format", Format);
            json.WriteNumber("version", Version);
            json.WriteString("asOf", Stamp(asOf));
            foreach (ExportTable table in tables)
            {
                json.WriteStartArray(table.Name);
                foreach (object?[] row in table.Rows)
                {
                    json.WriteStartObject();
                    for (int i = 0; i < row.Length; i++)
                    {
                        json.WritePropertyName(table.Columns[i].Name);
                        Write(json, row[i]);
                    }

                    json.WriteEndObject();
                    if (json.BytesPending > WaitingBytes)
                    {
                        json.Flush();
                    }
                }

                json.WriteEndArray();
            }

            json.WriteEndObject();
        }

        to.WriteByte((byte)'\n');
    }

    /// <summary>A day or a moment as text (RFC 3339).</summary>
    internal static string Stamp(object value) => value is DateOnly day
        ? day.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture)
        : ((DateTimeOffset)value).UtcDateTime.ToString("yyyy-MM-dd'T'HH:mm:ss.fff'Z'", CultureInfo.InvariantCulture);

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
            case double number:
                json.WriteNumberValue(number);
                break;
            case DateOnly or DateTimeOffset:
                json.WriteStringValue(Stamp(value));
                break;
            default:
                json.WriteNullValue();
                break;
        }
    }
}
