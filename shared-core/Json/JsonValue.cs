using System.Globalization;
using System.Text.Json;

namespace Cardassay.Json;

/// <summary>One value of a text with the place it stands at.</summary>
/// <param name="Kind">The JSON token: StartObject, StartArray, String, Number, True, False or Null.</param>
/// <param name="Key">The key that leads to it, as `steps[2].blockBytes`; empty for the root.</param>
/// <param name="OffsetBytes">Where it begins in the UTF-8 text.</param>
/// <param name="Text">Text of a string, digits of a number, else empty or the word itself.</param>
public sealed record JsonValue(JsonTokenType Kind, string Key, int OffsetBytes, string Text)
{
    /// <summary>Values of an array.</summary>
    public List<JsonValue> Items { get; } = [];

    /// <summary>Members of an object in the order written.</summary>
    public List<JsonMember> Members { get; } = [];

    /// <summary>The text, when it is a string.</summary>
    public string? String => Kind == JsonTokenType.String ? Text : null;

    /// <summary>The value, when it is a number.</summary>
    public double? Number => Kind == JsonTokenType.Number ? double.Parse(Text, NumberStyles.Float, CultureInfo.InvariantCulture) : null;

    /// <summary>The first member of that name, or null.</summary>
    public JsonValue? Find(string name) => Members.Find(member => member.Name == name)?.Value;
}

/// <summary>A member of an object.</summary>
/// <param name="Name">Its name.</param>
/// <param name="NameOffsetBytes">Where the name begins in the UTF-8 text.</param>
/// <param name="Value">Its value.</param>
public sealed record JsonMember(string Name, int NameOffsetBytes, JsonValue Value);
