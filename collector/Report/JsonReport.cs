using System.Text;
using System.Text.Encodings.Web;
using System.Text.Json;
using System.Text.Json.Serialization;
using System.Text.Json.Serialization.Metadata;
using System.Text.Unicode;
using Cardassay.Collector.Report.Model;
using Cardassay.Trials;
using Cardassay.Trust;

namespace Cardassay.Collector.Report;

/// <summary>
/// The report for programs: the model itself, of which `report.schema.json` beside this file describes the keys. Numbers are the printed, rounded ones, digit
/// for digit. Keys may be added; none is ever renamed or given another meaning.
/// </summary>
public static class JsonReport
{
    /// <summary>Version of the layout; grows only when a key would change its meaning.</summary>
    public const int Version = 1;

    /// <summary>Bytes that may wait in memory before they are handed on.</summary>
    private const int WaitingBytes = 64 * 1024;

    private static readonly JsonSerializerOptions Options = new()
    {
        PropertyNamingPolicy = JsonNamingPolicy.CamelCase, WriteIndented = true, NewLine = "\n", Encoder = Escaping(), DefaultBufferSize = WaitingBytes,
        Converters = { new WordConverter<BlockState>(), new WordConverter<ProofKind>() },
        TypeInfoResolver = ReportJson.Default.WithAddedModifier(OnlyWritten),
    };

    /// <summary>Renders the model as JSON text with a final newline. A text cannot hold the report of millions of trials; <see cref="WriteAsync"/> has no such limit.</summary>
    public static string Render(ReportModel model) => JsonSerializer.Serialize(model, TypeOf<ReportModel>()) + "\n";

    /// <summary>Writes the same as <see cref="Render"/>, UTF-8, while it is made: no more than one card of it is in memory at a time.</summary>
    /// <param name="model">The report.</param>
    /// <param name="to">Where; it stays open.</param>
    /// <param name="cancellationToken">Ends the writing in the middle.</param>
    public static async Task WriteAsync(ReportModel model, Stream to, CancellationToken cancellationToken)
    {
        ArgumentNullException.ThrowIfNull(to);
        await JsonSerializer.SerializeAsync(to, model, TypeOf<ReportModel>(), cancellationToken);
        await to.WriteAsync("\n"u8.ToArray(), cancellationToken);
        await to.FlushAsync(cancellationToken);
    }

    /// <summary>How a type of the report is written.</summary>
    internal static JsonTypeInfo<T> TypeOf<T>() => (JsonTypeInfo<T>)Options.GetTypeInfo(typeof(T));

    /// <summary>Nothing is read with it, so that a member which is not in the JSON may be required all the same.</summary>
    private static void OnlyWritten(JsonTypeInfo type)
    {
        foreach (JsonPropertyInfo member in type.Properties)
        {
            member.IsRequired = false;
        }
    }

    /// <summary>Every letter as it is; what is no text for people (see <see cref="PlainText"/>) as an escape, so that a program gets it and a person does not.</summary>
    private static JavaScriptEncoder Escaping()
    {
        var settings = new TextEncoderSettings(UnicodeRanges.All);
        settings.ForbidCharacters([.. Enumerable.Range(0, 0x10000).Select(c => (char)c).Where(c => !char.IsSurrogate(c) && PlainText.IsUnsafe(new Rune(c)))]);
        return JavaScriptEncoder.Create(settings);
    }
}

/// <summary>The types of the report. Metadata alone: the faster way to write would hold all of it in memory.</summary>
[JsonSourceGenerationOptions(GenerationMode = JsonSourceGenerationMode.Metadata)]
[JsonSerializable(typeof(ReportModel))]
[JsonSerializable(typeof(IReadOnlyList<FirstPagePart>))]
internal sealed partial class ReportJson : JsonSerializerContext;
