using System.Text.Json.Serialization;

namespace Cardassay.Collector.Exchange;

/// <summary>What every about.json begins with; null where it does not.</summary>
internal sealed record AboutHead(string? Format = null, int? Version = null);

/// <summary>about.json of a publication.</summary>
internal sealed record EvidenceAbout(
    string Format, int Version, string MadeWith, long AsOfUnixNs, string Profile, bool Prices, IReadOnlyList<string> Columns, IReadOnlyList<string> Cards,
    [property: JsonPropertyOrder(1)] int UnreadableRecordsLeftOut, [property: JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)] string? Link = null);

/// <summary>about.json of everything a collector holds.</summary>
internal sealed record EntriesAbout(string Format, int Version, string Collector, string MadeWith, long Entries, string Sha256);

/// <summary>These files as JSON.</summary>
[JsonSourceGenerationOptions(
    PropertyNamingPolicy = JsonKnownNamingPolicy.CamelCase, WriteIndented = true, RespectNullableAnnotations = true, RespectRequiredConstructorParameters = true)]
[JsonSerializable(typeof(AboutHead))]
[JsonSerializable(typeof(EvidenceAbout))]
[JsonSerializable(typeof(EntriesAbout))]
internal sealed partial class AboutJson : JsonSerializerContext;
