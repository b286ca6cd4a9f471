using System.Text;
using System.Text.Json;
using Cardassay.Identity;
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
            Number(json, "trueBytes", result.Judgement.TrueBytes);
            json.WriteNumber("keepsAtLeastBytes", result.Judgement.KeepsAtLeastBytes);
            json.WriteString("kind", ProofFindings.Kind(proof));
            json.WriteNumber("blocksWritten", proof.BlocksWritten);
            json.WriteNumber("blocksRead", proof.BlocksRead);
            Number(json, "lostFractionBelow", proof.LostFractionBelow);
            json.WriteString("assumption", proof.LostFractionBelow is null ? null : ProofFindings.Assumption(proof));
            Number(json, "lostFractionAtLeast", result.Judgement.Word >= ProofWord.Defective ? result.Judgement.LostFractionAtLeast : null);
            json.WriteString("statement", ProofFindings.Statement(proof));
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

    private static void Number(Utf8JsonWriter json, string name, double? value)
    {
        if (value is { } number)
        {
            json.WriteNumber(name, number);
        }
        else
        {
            json.WriteNull(name);
        }
    }

    private static string Name(string text) => JsonNamingPolicy.CamelCase.ConvertName(text);
}
