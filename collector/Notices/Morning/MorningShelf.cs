using System.Text.Encodings.Web;
using System.Text.Json;
using System.Text.Json.Serialization;
using Cardassay.Journal;

namespace Cardassay.Collector.Notices.Morning;

/// <summary>Reports that wait to be taken, and a line on each night there was one, in a folder of the collector's own.</summary>
internal sealed class MorningShelf(string folder)
{
    /// <summary>Name below the data folder.</summary>
    internal const string Name = "morning";

    private const string Ending = ".report.json";
    private const string LinesName = "nights.json";

    /// <summary>The private file is as small as it can be; no browser reads it.</summary>
    private static readonly MorningShelfJson Json = new(
        new JsonSerializerOptions { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping });

    /// <summary>Keeps a report under the key of its message.</summary>
    /// <exception cref="IOException">The disk refuses.</exception>
    internal void Put(string key, MorningReport report)
    {
        Directory.CreateDirectory(folder);
        KeptFile.Write(PathOf(key), JsonSerializer.SerializeToUtf8Bytes(report, Json.MorningReport));
        SortedDictionary<string, string> lines = Lines();
        lines[report.Night] = report.Line;
        KeptFile.Write(Path.Combine(folder, LinesName), JsonSerializer.SerializeToUtf8Bytes(lines, Json.SortedDictionaryStringString));
    }

    /// <summary>The report of a key; null when it is gone or damaged.</summary>
    internal MorningReport? Find(string key)
    {
        try
        {
            return JsonSerializer.Deserialize(File.ReadAllBytes(PathOf(key)), Json.MorningReport);
        }
        catch (Exception e) when (e is IOException or JsonException or UnauthorizedAccessException)
        {
            return null;
        }
    }

    /// <summary>A line on each night, by night; a night whose line was lost is missing.</summary>
    internal SortedDictionary<string, string> Lines()
    {
        try
        {
            return new(JsonSerializer.Deserialize(File.ReadAllBytes(Path.Combine(folder, LinesName)), Json.SortedDictionaryStringString)
                ?? [], StringComparer.Ordinal);
        }
        catch (Exception e) when (e is IOException or JsonException or UnauthorizedAccessException)
        {
            return new(StringComparer.Ordinal);
        }
    }

    /// <summary>Lets go of every report but those of the keys.</summary>
    internal void Keep(IEnumerable<string> keys)
    {
        if (!Directory.Exists(folder))
        {
            return;
        }

        HashSet<string> kept = [.. keys.Select(PathOf)];
        foreach (string file in Directory.EnumerateFiles(folder, "*" + Ending).Where(f => !kept.Contains(f)).ToArray())
        {
            File.Delete(file);
        }
    }

    private string PathOf(string key) => Path.Combine(folder, key + Ending);
}

/// <summary>What lies on the shelf, as JSON.</summary>
[JsonSerializable(typeof(MorningReport))]
[JsonSerializable(typeof(SortedDictionary<string, string>))]
internal sealed partial class MorningShelfJson : JsonSerializerContext;
