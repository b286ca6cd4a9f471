using System.Text.Json;
using System.Text.Json.Serialization;

namespace Cardassay.Collector.Report.Model;

/// <summary>Writes a member of an enumeration as a word ("notProbed"), one without a name as its number in quotes. Reads nothing.</summary>
internal sealed class WordConverter<T> : JsonConverter<T>
    where T : struct, Enum
{
    /// <exception cref="NotSupportedException">Always.</exception>
    public override T Read(ref Utf8JsonReader reader, Type typeToConvert, JsonSerializerOptions options) => throw new NotSupportedException();

    /// <inheritdoc/>
    public override void Write(Utf8JsonWriter writer, T value, JsonSerializerOptions options)
    {
        ArgumentNullException.ThrowIfNull(writer);
        writer.WriteStringValue(JsonNamingPolicy.CamelCase.ConvertName(value.ToString()));
    }
}
