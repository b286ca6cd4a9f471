using System.Text.Encodings.Web;
using System.Text.Json.Serialization;
using Cardassay.Json;
using Cardassay.Registers;
using Cardassay.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>
/// What `--json` prints: the public members of these types under their names, in the order they are declared. Numbers are numbers; what is not known is null.
/// </summary>
[JsonSourceGenerationOptions(
    GenerationMode = JsonSourceGenerationMode.Metadata, PropertyNamingPolicy = JsonKnownNamingPolicy.CamelCase, WriteIndented = true, NewLine = "\n",
    Converters = [typeof(WordConverter<Attachment>), typeof(WordConverter<CrcState>), typeof(WordConverter<ReadingState>), typeof(WordConverter<RunOutcome>), typeof(WordConverter<TargetKind>), typeof(WordConverter<TrialRole>)])]
[JsonSerializable(typeof(BacklogJson))]
[JsonSerializable(typeof(CardPreviewJson))]
[JsonSerializable(typeof(MeasureJson))]
[JsonSerializable(typeof(ProveJson))]
internal sealed partial class CommandJson : JsonSerializerContext
{
    /// <summary>For a terminal or a program, never a page: '+' and '&lt;' stay what they are.</summary>
    internal static CommandJson Relaxed => field ??= new(new(Default.Options) { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping });
}
