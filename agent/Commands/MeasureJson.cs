using System.Text.Json;
using Cardassay.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>The result of one run as JSON.</summary>
internal sealed record MeasureJson(
    string Run, string Target, TargetKind TargetKind, string? Identity, bool IdentityFromRegisters, string? Tag, RunOutcome Outcome, string? Reason, long BytesWritten,
    IReadOnlyList<string> Notes, IReadOnlyList<MeasureJson.MarkJson> Marks, IReadOnlyList<TrialJson> Trials)
{
    internal static string Render(RunResult result, string? tag)
    {
        var json = new MeasureJson(
            result.RunId.ToString(), result.Target.Path, result.Target.Kind, result.Card?.Identity.Text, result.Card?.Identity.FromRegisters ?? false, tag,
            result.Summary.Outcome, result.Summary.Reason, result.Summary.BytesWritten, result.Summary.Notes,
            [.. ClassMarks.Of(result).Select(m => new MarkJson(m.Mark, m.Outcome, m.Statement, m.Text))], [.. result.Trials.Select(TrialJson.Of)]);
        return JsonSerializer.Serialize(json, CommandJson.Default.MeasureJson);
    }

    internal sealed record MarkJson(string Mark, string Outcome, string Statement, string Text);
}
