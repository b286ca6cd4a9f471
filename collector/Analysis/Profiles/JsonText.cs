using System.Text.Json;

namespace Cardassay.Collector.Analysis.Profiles;

/// <summary>A JSON value that remembers its line, so that an error can name it. Comments and trailing commas are allowed.</summary>
internal sealed class JsonText
{
    /// <summary>Line it begins on, from 1.</summary>
    public int Line { get; private init; }

    /// <summary>Text, when it is a string.</summary>
    public string? Text { get; private init; }

    /// <summary>Value, when it is a number.</summary>
    public double? Number { get; private init; }

    /// <summary>Elements, when it is a list.</summary>
    public IReadOnlyList<JsonText>? Items { get; private init; }

    /// <summary>Members in the order written, doubled ones included, when it is an object.</summary>
    public IReadOnlyList<(string Key, JsonText Value)>? Members { get; private init; }

    /// <summary>First member of that key, or null.</summary>
    public JsonText? Member(string key) => Members?.FirstOrDefault(m => m.Key == key).Value;

    /// <summary>Reads a whole document.</summary>
    /// <exception cref="JsonException">It is not valid JSON.</exception>
    public static JsonText Read(ReadOnlySpan<byte> utf8)
    {
        ReadOnlySpan<byte> text = utf8.StartsWith("\uFEFF"u8) ? utf8[3..] : utf8;
        var reader = new Utf8JsonReader(text, new JsonReaderOptions { CommentHandling = JsonCommentHandling.Skip, AllowTrailingCommas = true });
        if (!reader.Read())
        {
            throw new JsonException("empty", null, 0, 0);
        }

        JsonText value = ReadValue(ref reader, text);
        reader.Read(); // anything but comments behind the value is an error the reader reports
        return value;
    }

    private static JsonText ReadValue(ref Utf8JsonReader reader, ReadOnlySpan<byte> text)
    {
        int line = 1 + text[..(int)reader.TokenStartIndex].Count((byte)'\n');
        switch (reader.TokenType)
        {
            case JsonTokenType.StartObject:
                var members = new List<(string, JsonText)>();
                while (reader.Read() && reader.TokenType != JsonTokenType.EndObject)
                {
                    string key = Unicode(ref reader, line);
                    reader.Read();
                    members.Add((key, ReadValue(ref reader, text)));
                }

                return new JsonText { Line = line, Members = members };
            case JsonTokenType.StartArray:
                var items = new List<JsonText>();
                while (reader.Read() && reader.TokenType != JsonTokenType.EndArray)
                {
                    items.Add(ReadValue(ref reader, text));
                }

                return new JsonText { Line = line, Items = items };
            case JsonTokenType.String:
                return new JsonText { Line = line, Text = Unicode(ref reader, line) };
            case JsonTokenType.Number:
                return new JsonText { Line = line, Number = reader.GetDouble() };
            default:
                return new JsonText { Line = line };
        }
    }

    /// <summary>The text of a name or value; RFC 8259, section 8.1, wants UTF-8, and half a surrogate pair (8.2) is no character.</summary>
    private static string Unicode(ref Utf8JsonReader reader, int line)
    {
        try
        {
            return reader.GetString()!;
        }
        catch (InvalidOperationException e)
        {
            throw new JsonException("not Unicode", null, line - 1, 0, e);
        }
    }
}
