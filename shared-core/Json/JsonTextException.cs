namespace Cardassay.Json;

/// <summary>A text is not JSON of the kind <see cref="JsonText"/> reads.</summary>
/// <param name="problem">What is wrong.</param>
/// <param name="key">The key that was being read, as `steps[2].blockBytes`; empty for the root.</param>
/// <param name="offsetBytes">Where in the UTF-8 text.</param>
/// <param name="cause">What the reader says; null for a key that is written twice.</param>
public sealed class JsonTextException(JsonTextProblem problem, string key, int offsetBytes, Exception? cause = null)
    : FormatException(cause?.Message ?? $"the key {key} is written twice", cause)
{
    public JsonTextProblem Problem => problem;

    public string Key => key;

    public int OffsetBytes => offsetBytes;
}

/// <summary>What is wrong with a text.</summary>
public enum JsonTextProblem
{
    NotJson,
    NoCharacter,
    KeyTwice,
}
