using System.Globalization;
using System.Text.Json;
using System.Text.Json.Nodes;

namespace Cardassay.EmulatedBoard.Harness;

/// <summary>Reads counts from JSON made of protobuf messages.</summary>
public static class JsonNumbers
{
    /// <summary>A 64-bit count: protobuf's JSON mapping writes it as text and leaves zero out.</summary>
    public static long AsLong(this JsonNode? node) => node switch
    {
        null => 0,
        _ when node.GetValueKind() == JsonValueKind.String => long.Parse(node.GetValue<string>(), CultureInfo.InvariantCulture),
        _ => node.GetValue<long>(),
    };
}
