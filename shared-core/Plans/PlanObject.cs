using System.Globalization;
using System.Text.Json;
using Cardassay.Json;

namespace Cardassay.Plans;

/// <summary>An object of a plan file whose keys are known; takes values out and says clearly what is wrong with them.</summary>
internal sealed class PlanObject
{
    private readonly PlanSource _source;
    private readonly JsonValue _node;

    /// <exception cref="PlanException">It is no object, or has a key that is not in <paramref name="known"/>.</exception>
    public PlanObject(PlanSource source, JsonValue node, params ReadOnlySpan<string> known)
    {
        _source = source;
        _node = node;
        if (node.Kind != JsonTokenType.StartObject)
        {
            throw source.At(node, "An object is expected here", "Write { ... }");
        }

        foreach (JsonMember member in node.Members)
        {
            if (!known.Contains(member.Name))
            {
                throw source.At(member.NameOffsetBytes, member.Value.Key, $"\"{member.Name}\" is not a key of a plan at this place",
                    NearestName.Advice(member.Name, known));
            }
        }
    }

    /// <summary>The value of a key, or null when the key is not there.</summary>
    public JsonValue? Find(string key) => _node.Find(key);

    public JsonValue Required(string key, string example) =>
        Find(key) ?? throw _source.At(_node.OffsetBytes, KeyOf(key), "The key is missing", $"Add \"{key}\": {example}");

    public PlanException Wrong(string key, string problem, string remedy) =>
        Find(key) is { } node ? _source.At(node, problem, remedy) : _source.At(_node.OffsetBytes, KeyOf(key), problem, remedy);

    public string RequiredText(string key, string example) => Text(Required(key, example));

    public string? OptionalText(string key) => Find(key) is { } node ? Text(node) : null;

    public bool Flag(string key, bool otherwise) => Find(key) switch
    {
        null => otherwise,
        { Kind: JsonTokenType.True } => true,
        { Kind: JsonTokenType.False } => false,
        { } node => throw _source.At(node, "true or false is expected here", "Write true or false without quotes"),
    };

    public int? Integer(string key, int least, int most) => Find(key) is { } node ? Integer(node, least, most) : null;

    public int Integer(JsonValue node, int least, int most)
    {
        if (node.Kind != JsonTokenType.Number
            || !int.TryParse(node.Text, NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out int value)
            || value < least || value > most)
        {
            throw _source.At(node, "A whole number is expected here", Between(least, most));
        }

        return value;
    }

    public double? Number(string key, double least, double most)
    {
        if (Find(key) is not { } node)
        {
            return null;
        }

        if (node.Kind != JsonTokenType.Number
            || !double.TryParse(node.Text, NumberStyles.Float, CultureInfo.InvariantCulture, out double value)
            || !(value >= least && value <= most))
        {
            throw _source.At(node, "A number is expected here", Between(least, most));
        }

        return value;
    }

    /// <summary>Bytes, as a whole number or as text with a unit: `"512 KiB"`.</summary>
    public long? Bytes(string key, long least, long most, int multipleOf)
    {
        if (Find(key) is not { } node)
        {
            return null;
        }

        long? value = node.Kind switch
        {
            JsonTokenType.Number when long.TryParse(node.Text, NumberStyles.None, CultureInfo.InvariantCulture, out long plain) => plain,
            JsonTokenType.String => ByteText.TryParse(node.Text),
            _ => null,
        };
        if (value is not { } bytes)
        {
            throw _source.At(node, "A number of bytes is expected here",
                "Write a whole number, or text such as \"512 KiB\" (units B, KiB, MiB, GiB, TiB)");
        }

        if (bytes < least || bytes > most)
        {
            throw _source.At(node, $"{ByteText.Of(bytes)} is out of range", $"Write {ByteText.Of(least)} to {ByteText.Of(most)}");
        }

        if (bytes % multipleOf != 0)
        {
            long nearest = Math.Clamp((bytes + multipleOf / 2) / multipleOf * multipleOf, least, most);
            throw _source.At(node, string.Create(CultureInfo.InvariantCulture, $"{bytes} is not a multiple of {multipleOf}"),
                string.Create(CultureInfo.InvariantCulture, $"Write {nearest}"));
        }

        return bytes;
    }

    private string Text(JsonValue node) =>
        node.Kind == JsonTokenType.String ? node.Text : throw _source.At(node, "Text is expected here", "Write it in double quotes");

    private string KeyOf(string key) => _node.Key.Length == 0 ? key : $"{_node.Key}.{key}";

    private static string Between(double least, double most) =>
        string.Create(CultureInfo.InvariantCulture, $"Write a number from {least} to {most}");
}
