using System.Text.Json;
using System.Text.Json.Serialization;

namespace Cardassay.Collector.Notices.Morning;

/// <summary>Reads from a report as JSON what a later one is compared with, and holds no more of it in memory.</summary>
internal static class MorningSignsFile
{
    /// <summary>Null when it is no such report.</summary>
    /// <exception cref="IOException">It cannot be read.</exception>
    internal static async Task<MorningSigns?> ReadAsync(Stream json, CancellationToken cancellationToken)
    {
        try
        {
            return await JsonSerializer.DeserializeAsync(json, ReportedJson.Default.Reported,
                cancellationToken) is { Cards: { } cards, NeedsPerson: { } needs }
                ? MorningSigns.Of("", cards.Select(c => (c.Tag ?? c.Identity ?? "", c.Verdict ?? "")),
                    needs.Select(n => $"{n.Subject}: {n.Text}"))
                : null;
        }
        catch (JsonException)
        {
            return null;
        }
    }

    /// <summary>The keys of `report.schema.json` that matter here.</summary>
    internal sealed record Reported(IReadOnlyList<ReportedCard>? Cards, IReadOnlyList<ReportedNeed>? NeedsPerson);

    /// <summary>A card.</summary>
    internal sealed record ReportedCard(string? Tag, string? Identity, string? Verdict);

    /// <summary>Something that needs a person.</summary>
    internal sealed record ReportedNeed(string? Subject, string? Text);
}

/// <summary>A report as JSON.</summary>
[JsonSourceGenerationOptions(PropertyNamingPolicy = JsonKnownNamingPolicy.CamelCase)]
[JsonSerializable(typeof(MorningSignsFile.Reported))]
internal sealed partial class ReportedJson : JsonSerializerContext;
