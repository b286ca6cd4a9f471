using Cardassay.Collector.Analysis.CrossChecks;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Report.First;

/// <summary>Boards whose figures should not be trusted without a second look.</summary>
internal static class BoardsPart
{
    private static readonly string[] OfBoards = [CheckIds.BoardConditions, CheckIds.BoardEffect, CheckIds.RigDrift,
        CheckIds.RigDisagreement];

    public static IEnumerable<string> Lines(ReportModel model)
    {
        string[] findings = [.. model.Laboratory.Where(f => OfBoards.Contains(f.Id)).Select(f => f.Text)];
        // A finding about a board says more than the sentence on all of them.
        return model.Laboratory.Any(f => f.Id == CheckIds.BoardEffect) ? findings : [.. findings, .. model.BoardStatements];
    }
}
