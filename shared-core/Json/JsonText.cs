using System.Text;
using System.Text.Json;

namespace Cardassay.Json;

/// <summary>
/// Reads JSON as people write it in files, with comments and trailing commas, into values that know where they stand, so that whoever
/// finds something wrong with one can name its line and key.
/// </summary>
public static class JsonText
{
    /// <summary>Nesting a file may have where nobody asks for less; the reader's own limit.</summary>
    private const int MaxDepth = 64;

    /// <summary>Reads a whole text.</summary>
    /// <param name="utf8">The text, without a byte order mark.</param>
    /// <param name="maxDepth">Nesting allowed.</param>
    /// <param name="isKeyOnce">True when a key that is written twice in an object is an error; else the caller sees both.</param>
    /// <exception cref="JsonTextException">It is not JSON of this kind.</exception>
    public static JsonValue Read(ReadOnlySpan<byte> utf8, int maxDepth = MaxDepth, bool isKeyOnce = false)
    {
        var options = new JsonReaderOptions { CommentHandling = JsonCommentHandling.Skip, AllowTrailingCommas = true, MaxDepth = maxDepth };
        var reader = new Utf8JsonReader(utf8, options);
        string reading = "";
        try
        {
            reader.Read();
            JsonValue value = ReadValue(ref reader, "", ref reading, isKeyOnce);
            reader.Read(); // anything but comments behind the value is an error the reader reports
            return value;
        }
        catch (JsonException error)
        {
            throw new JsonTextException(JsonTextProblem.NotJson, reading, OffsetOf(utf8, error), error);
        }
        catch (InvalidOperationException error)
        {
            // The reader's way to say that an escape such as \ud800 is no character, or that bytes are no UTF-8 (RFC 8259, 8.1 and 8.2).
            throw new JsonTextException(JsonTextProblem.NoCharacter, reading, (int)reader.TokenStartIndex, error);
        }
    }

    /// <summary>Line and column of a byte, both from 1; the column counts UTF-16 units, as editors do.</summary>
    public static (int Line, int Column) PlaceOf(ReadOnlySpan<byte> utf8, int offsetBytes)
    {
        ReadOnlySpan<byte> before = utf8[..Math.Min(offsetBytes, utf8.Length)];
        int lineStart = before.LastIndexOf((byte)'\n') + 1;
        return (before.Count((byte)'\n') + 1, Encoding.UTF8.GetCharCount(before[lineStart..]) + 1);
    }

    private static JsonValue ReadValue(ref Utf8JsonReader reader, string key, ref string reading, bool isKeyOnce)
    {
        reading = key;
        var value = new JsonValue(reader.TokenType, key, (int)reader.TokenStartIndex, reader.TokenType switch
        {
            JsonTokenType.StartObject or JsonTokenType.StartArray => "",
            JsonTokenType.String => reader.GetString()!,
            _ => Encoding.UTF8.GetString(reader.ValueSpan),
        });
        while (value.Kind == JsonTokenType.StartArray && reader.Read() && reader.TokenType != JsonTokenType.EndArray)
        {
            value.Items.Add(ReadValue(ref reader, $"{key}[{value.Items.Count}]", ref reading, isKeyOnce));
            reading = key;
        }

        while (value.Kind == JsonTokenType.StartObject && reader.Read() && reader.TokenType != JsonTokenType.EndObject)
        {
            int nameOffset = (int)reader.TokenStartIndex;
            string name = reader.GetString()!;
            string member = key.Length == 0 ? name : $"{key}.{name}";
            if (isKeyOnce && value.Find(name) is not null)
            {
                throw new JsonTextException(JsonTextProblem.KeyTwice, member, nameOffset);
            }

            reader.Read();
            value.Members.Add(new JsonMember(name, nameOffset, ReadValue(ref reader, member, ref reading, isKeyOnce)));
            reading = key;
        }

        return value;
    }

    private static int OffsetOf(ReadOnlySpan<byte> utf8, JsonException error)
    {
        int offset = 0;
        for (long line = error.LineNumber ?? 0; line > 0 && offset < utf8.Length; line--)
        {
            int next = utf8[offset..].IndexOf((byte)'\n');
            if (next < 0)
            {
                break;
            }

            offset += next + 1;
        }

        return (int)Math.Min(offset + (error.BytePositionInLine ?? 0), utf8.Length);
    }
}
