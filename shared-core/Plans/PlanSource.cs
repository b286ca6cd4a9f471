using System.Text;
using Cardassay.Json;

namespace Cardassay.Plans;

/// <summary>The text of a plan file: its values, and the place of what is wrong with one.</summary>
internal sealed class PlanSource
{
    private const int MaxBytes = 1 << 20;
    private const int MaxDepth = 16;

    private readonly byte[] _utf8;

    private PlanSource(string name, string text)
    {
        Name = name;
        _utf8 = Encoding.UTF8.GetBytes(text.StartsWith('\uFEFF') ? text[1..] : text);
    }

    public string Name { get; }

    /// <exception cref="PlanException">The text is not JSON, or too large.</exception>
    public static (PlanSource Source, JsonValue Root) Read(string text, string sourceName)
    {
        var source = new PlanSource(sourceName, text);
        if (source._utf8.Length > MaxBytes)
        {
            throw new PlanException(sourceName, 1, 1, "", "The file is larger than 1 MiB",
                "Give a plan file, which is a few kilobytes of JSON");
        }

        try
        {
            return (source, JsonText.Read(source._utf8, MaxDepth, isKeyOnce: true));
        }
        catch (JsonTextException error)
        {
            (string problem, string remedy) = error.Problem switch
            {
                JsonTextProblem.KeyTwice => ("The key is written twice", "Keep one of the two"),
                JsonTextProblem.NoCharacter => ("The text holds an escape that is no character", "Remove the escape"),
                _ => ($"This is not JSON: {Plain(error.Message)}", "Correct the text at this place"),
            };
            throw source.At(error.OffsetBytes, error.Key, problem, remedy);
        }
    }

    /// <summary>An error at a value.</summary>
    public PlanException At(JsonValue value, string problem, string remedy) => At(value.OffsetBytes, value.Key, problem, remedy);

    /// <summary>An error at a place.</summary>
    public PlanException At(int offsetBytes, string key, string problem, string remedy)
    {
        (int line, int column) = JsonText.PlaceOf(_utf8, offsetBytes);
        return new PlanException(Name, line, column, key, problem, remedy);
    }

    private static string Plain(string message)
    {
        int place = message.IndexOf(" LineNumber:", StringComparison.Ordinal);
        return (place < 0 ? message : message[..place]).TrimEnd('.', ' ');
    }
}
