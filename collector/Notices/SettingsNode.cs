using System.Globalization;
using System.Text.Json;
using Cardassay.Json;

namespace Cardassay.Collector.Notices;

/// <summary>One object of the settings file: reads its keys, names what is wrong with one, and refuses keys nobody knows.</summary>
internal sealed class SettingsNode
{
    private readonly JsonValue _json;
    private readonly string _file;
    private readonly string _path;
    private readonly HashSet<string> _known = new(StringComparer.Ordinal);

    internal SettingsNode(JsonValue json, string file, string path = "")
    {
        _file = file;
        _path = path;
        _json = json.Kind == JsonTokenType.StartObject ? json : throw Wrong(null, "must be an object in braces");
    }

    internal string? Text(string key) => Find(key) is not { } value
        ? null
        : value.String is { Length: > 0 } text ? text
        : throw Wrong(key, "must be a text in quotes");

    internal string NeededText(string key) => Text(key) ?? throw Wrong(key, "is missing");

    internal int Number(string key, int least, int most, int otherwise)
    {
        if (Find(key) is not { } value)
        {
            return otherwise;
        }

        return value.Kind == JsonTokenType.Number
            && int.TryParse(value.Text, NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out int number)
            && number >= least && number <= most
            ? number
            : throw Wrong(key, FormattableString.Invariant($"must be a whole number from {least} to {most}"));
    }

    internal IReadOnlyList<string>? Texts(string key)
    {
        if (Find(key) is not { } value)
        {
            return null;
        }

        return value.Items.Count > 0 && value.Items.TrueForAll(v => v.String is not null)
            ? [.. value.Items.Select(v => v.Text)]
            : throw Wrong(key, "must be a list of texts in brackets, at least one");
    }

    internal bool Flag(string key) => Find(key) is { } value
        && (value.Kind is JsonTokenType.True or JsonTokenType.False
            ? value.Kind == JsonTokenType.True
            : throw Wrong(key, "must be true or false"));

    /// <summary>A time of day as "HH:mm"; null where the key is missing.</summary>
    internal TimeOnly? TimeOfDay(string key) => Text(key) is not { } text ? null
        : TimeOnly.TryParseExact(text, "HH:mm", CultureInfo.InvariantCulture, DateTimeStyles.None, out TimeOnly time) ? time
        : throw Wrong(key, "must be a time of day like \"07:30\"");

    internal SettingsNode? Node(string key) => Find(key) is { } value ? new SettingsNode(value, _file, PathOf(key)) : null;

    /// <summary>Call when all keys were read.</summary>
    internal void Close()
    {
        if (_json.Members.Find(member => !_known.Contains(member.Name)) is { } unknown)
        {
            throw Wrong(unknown.Name, $"is no setting; there are {string.Join(", ", _known.Order(StringComparer.Ordinal))}");
        }
    }

    internal NoticeSettingsException Wrong(string? key, string what) =>
        new($"{_file}: {(key is null ? _path.Length > 0 ? _path : "the file" : PathOf(key))} {what}.");

    /// <summary>Of a key that is written twice the last one counts.</summary>
    private JsonValue? Find(string key)
    {
        _known.Add(key);
        return _json.Members.FindLast(member => member.Name == key)?.Value is { Kind: not JsonTokenType.Null } value ? value : null;
    }

    private string PathOf(string key) => _path.Length > 0 ? $"{_path}.{key}" : key;
}
