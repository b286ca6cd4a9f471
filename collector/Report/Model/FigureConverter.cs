using System.Text.Json;
using System.Text.Json.Serialization;

namespace Cardassay.Collector.Report.Model;

/// <summary>Writes a figure as the number that is printed, digit for digit. Reads nothing.</summary>
internal sealed class FigureConverter : JsonConverter<Figure>
{
    public override Figure Read(ref Utf8JsonReader reader, Type typeToConvert, JsonSerializerOptions options) => throw new NotSupportedException();

    public override void Write(Utf8JsonWriter writer, Figure value, JsonSerializerOptions options) => writer.WriteRawValue(value.Text);
}
