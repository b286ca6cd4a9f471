using System.Text;
using System.Text.Json;
using Cardassay.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>A proof as JSON. Numbers are numbers; what is not known is null.</summary>
internal static class ProveJson
{
    internal static string Render(ProveResult result)
    {
        ProofMeasured proof = result.Proof;
        using var buffer = new MemoryStream();
        using (var json = new Utf8JsonWriter(buffer, new JsonWriterOptions { Indented = true }))
        {
            json.WriteStartObject();
            json.WriteNumber("claimedBytes", proof.ClaimedBytes);
            if (proof.TrueBytes is { } trueBytes)
            {
                json.WriteNumber("trueBytes", trueBytes);
            }
            else
            {
                json.WriteNull("trueBytes");
            }

            json.WriteString("kind", proof.Finding == ProofFinding.Unknown ? null : Name(proof.Finding.ToString()));
            json.WriteNumber("blocksWritten", proof.BlocksWritten);
            json.WriteNumber("blocksRead", proof.BlocksRead);
            if (proof.LostFractionBelow is { } bound)
            {
                json.WriteNumber("lostFractionBelow", bound);
            }
            else
            {
                json.WriteNull("lostFractionBelow");
            }

            json.WriteStartArray("ranges");
            foreach (ProofRange range in proof.Ranges)
            {
                json.WriteStartObject();
                json.WriteNumber("startBytes", range.StartBytes);
                json.WriteNumber("endBytes", range.EndBytes);
                json.WriteString("state", Name(range.State.ToString()));
                json.WriteEndObject();
            }

            json.WriteEndArray();
            FindingsJson.Write(json, result.Findings);
            json.WriteEndObject();
        }

        return Encoding.UTF8.GetString(buffer.ToArray());
    }

    private static string Name(string text) => JsonNamingPolicy.CamelCase.ConvertName(text);
}
