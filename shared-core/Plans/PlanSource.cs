using System.Text;
using System.Text.Json;

namespace Cardassay.Plans;

/// <summary>The text of a plan file as a tree that remembers places. JSON with comments and trailing commas.</summary>
internal sealed class PlanSource
{
    private const int MaxBytes = 1 << 20;
    private const int MaxDepth = 16;

    private readonly byte[] _utf8;
    private string _reading = "";

    private PlanSource(string name, string text)
    {
        Name = name;
        _utf8 = Encoding.UTF8.GetBytes(text.StartsWith('\uFEFF') ? text[1..] : text);
    }

    public string Name { get; }

    /// <exception cref="PlanException">The text is not JSON, or too large.</exception>
    public static (PlanSource Source, PlanNode Root) Read(string text, string sourceName)
    {
        var source = new PlanSource(sourceName, text);
        if (source._utf8.Length > MaxBytes)
        {
            throw new PlanException(sourceName, 1, 1, "", "The file is larger than 1 MiB",
                "Give a plan file, which is a few kilobytes of JSON");
        }

        return (source, source.ReadRoot());
    }

    /// <summary>An error at a node.</summary>
    public PlanException At(PlanNode node, string problem, string remedy) => At(node.OffsetBytes, node.Key, problem, remedy);

    /// <summary>An error at a place.</summary>
    public PlanException At(int offsetBytes, string key, string problem, string remedy)
    {
        ReadOnlySpan<byte> before = _utf8.AsSpan(0, Math.Min(offsetBytes, _utf8.Length));
        int line = before.Count((byte)'\n') + 1;
        int lineStart = before.LastIndexOf((byte)'\n') + 1;
        int column = Encoding.UTF8.GetCharCount(before[lineStart..]) + 1;
        return new PlanException(Name, line, column, key, problem, remedy);
    }

    private PlanNode ReadRoot()
    {
        var options = new JsonReaderOptions { CommentHandling = JsonCommentHandling.Skip, AllowTrailingCommas = true, MaxDepth = MaxDepth };
        var reader = new Utf8JsonReader(_utf8, options);
        try
        {
            if (!reader.Read())
            {
                throw At(0, "", "The file is empty", "Write a JSON object with name, version and steps");
            }

            PlanNode root = ReadValue(ref reader, "");
            if (reader.Read())
            {
                throw At((int)reader.TokenStartIndex, "", "Something follows the end of the plan", "Remove it");
            }

            return root;
        }
        catch (JsonException error)
        {
            throw At(OffsetOf(error), _reading, $"This is not JSON: {Plain(error.Message)}", "Correct the text at this place");
        }
        catch (InvalidOperationException)
        {
            // The reader's way to say that an escape such as \ud800 is no character.
            throw At((int)reader.TokenStartIndex, _reading, "The text holds an escape that is no character", "Remove the escape");
        }
    }

    private PlanNode ReadValue(ref Utf8JsonReader reader, string key)
    {
        _reading = key;
        int offset = (int)reader.TokenStartIndex;
        switch (reader.TokenType)
        {
            case JsonTokenType.StartObject:
                return ReadObject(ref reader, new PlanNode(JsonTokenType.StartObject, key, offset, ""));
            case JsonTokenType.StartArray:
                return ReadArray(ref reader, new PlanNode(JsonTokenType.StartArray, key, offset, ""));
            case JsonTokenType.String:
                return new PlanNode(JsonTokenType.String, key, offset, reader.GetString() ?? "");
            default:
                return new PlanNode(reader.TokenType, key, offset, Encoding.UTF8.GetString(reader.ValueSpan));
        }
    }

    private PlanNode ReadObject(ref Utf8JsonReader reader, PlanNode node)
    {
        while (reader.Read() && reader.TokenType != JsonTokenType.EndObject)
        {
            int nameOffset = (int)reader.TokenStartIndex;
            string name = reader.GetString() ?? "";
            string key = node.Key.Length == 0 ? name : $"{node.Key}.{name}";
            if (node.Members.Any(member => string.Equals(member.Name, name, StringComparison.Ordinal)))
            {
                throw At(nameOffset, key, "The key is written twice", "Keep one of the two");
            }

            reader.Read();
            node.Members.Add(new PlanMember(name, nameOffset, ReadValue(ref reader, key)));
            _reading = node.Key;
        }

        return node;
    }

    private PlanNode ReadArray(ref Utf8JsonReader reader, PlanNode node)
    {
        while (reader.Read() && reader.TokenType != JsonTokenType.EndArray)
        {
            node.Items.Add(ReadValue(ref reader, $"{node.Key}[{node.Items.Count}]"));
            _reading = node.Key;
        }

        return node;
    }

    private int OffsetOf(JsonException error)
    {
        int offset = 0;
        for (long line = error.LineNumber ?? 0; line > 0 && offset < _utf8.Length; line--)
        {
            int next = _utf8.AsSpan(offset).IndexOf((byte)'\n');
            if (next < 0)
            {
                break;
            }

            offset += next + 1;
        }

        return (int)Math.Min(offset + (error.BytePositionInLine ?? 0), _utf8.Length);
    }

    private static string Plain(string message)
    {
        int place = message.IndexOf(" LineNumber:", StringComparison.Ordinal);
        return (place < 0 ? message : message[..place]).TrimEnd('.', ' ');
    }
}
