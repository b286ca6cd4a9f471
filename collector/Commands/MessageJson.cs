using System.Collections;
using System.Text;
using System.Text.Encodings.Web;
using System.Text.Json;
using Cardassay.Trust;
using Google.Protobuf;
using Google.Protobuf.Reflection;

namespace Cardassay.Collector.Commands;

/// <summary>
/// A message as JSON for scripts: numbers are numbers (the protobuf mapping writes 64-bit ones as text), bytes are hex, what is not
/// set is null.
/// </summary>
internal static class MessageJson
{
    internal static string Render(IMessage message)
    {
        using var buffer = new MemoryStream();
        using (var json = new Utf8JsonWriter(buffer,
            new JsonWriterOptions { Indented = true, Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping }))
        {
            Write(json, message);
        }

        return PlainText.EscapedJson(Encoding.UTF8.GetString(buffer.ToArray()));
    }

    private static void Write(Utf8JsonWriter json, IMessage message)
    {
        json.WriteStartObject();
        foreach (FieldDescriptor field in message.Descriptor.Fields.InFieldNumberOrder())
        {
            json.WritePropertyName(field.JsonName);
            if (field.HasPresence && !field.Accessor.HasValue(message))
            {
                json.WriteNullValue();
            }
            else if (field.IsRepeated)
            {
                json.WriteStartArray();
                foreach (object item in (IEnumerable)field.Accessor.GetValue(message))
                {
                    WriteValue(json, item);
                }

                json.WriteEndArray();
            }
            else
            {
                WriteValue(json, field.Accessor.GetValue(message));
            }
        }

        json.WriteEndObject();
    }

    private static void WriteValue(Utf8JsonWriter json, object value)
    {
        switch (value)
        {
            case IMessage message:
                Write(json, message);
                break;
            case bool flag:
                json.WriteBooleanValue(flag);
                break;
            case int number:
                json.WriteNumberValue(number);
                break;
            case uint number:
                json.WriteNumberValue(number);
                break;
            case long number:
                json.WriteNumberValue(number);
                break;
            case ulong number:
                json.WriteNumberValue(number);
                break;
            case double number:
                json.WriteNumberValue(number);
                break;
            case ByteString bytes:
                json.WriteStringValue(Convert.ToHexStringLower(bytes.Span));
                break;
            default:
                json.WriteStringValue(value.ToString());
                break;
        }
    }
}
