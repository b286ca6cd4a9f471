using System.Text.Json;
using Cardassay.Identity;

namespace Cardassay.Agent.Commands;

/// <summary>Findings as JSON, the same in every command.</summary>
internal static class FindingsJson
{
    internal static void Write(Utf8JsonWriter json, IReadOnlyList<Finding> findings)
    {
        json.WriteStartArray("findings");
        foreach (Finding finding in findings)
        {
            json.WriteStartObject();
            json.WriteString("id", finding.Id);
            json.WriteString("severity", finding.Severity switch
            {
                FindingSeverity.Contradiction => "contradiction",
                FindingSeverity.Doubt => "doubt",
                _ => "note",
            });
            json.WriteString("text", finding.Text);
            json.WriteStartArray("values");
            foreach (FindingValue value in finding.Values)
            {
                json.WriteStartObject();
                json.WriteString("name", value.Name);
                json.WriteString("value", value.Value);
                json.WriteEndObject();
            }

            json.WriteEndArray();
            json.WriteString("source", finding.Source);
            json.WriteString("settles", finding.Settles);
            json.WriteEndObject();
        }

        json.WriteEndArray();
    }
}
