using Cardassay.Collector.Analysis.CrossChecks;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Report.First;

/// <summary>Verdicts that the night changed, and cards whose figures moved.</summary>
internal static class ChangedPart
{
    private static readonly string[] Moved = [CheckIds.LevelChange, CheckIds.Drift];

    public static IEnumerable<string> Lines(ReportModel model)
    {
        string[] moved =
        [
            .. model.Cards.SelectMany(
                c => c.Findings.Where(f => Moved.Contains(f.Id)).Take(1)
                    .Select(f => $"{c.Title}{(c.Condition == "used" ? " (used)" : "")}: {f.Text}")),
        ];
        return
        [
            .. Verdicts(model, worse: true),
            .. moved,
            .. moved.Length == 0 && model.Cards.Any(c => c.Runs.Count > 0)
                ? ["No card's figures were shown to change; that needs many nights."]
                : (string[])[],
            .. Verdicts(model, worse: false),
        ];
    }

    private static IEnumerable<string> Verdicts(ReportModel model, bool worse) =>
        model.VerdictChanges.Where(c => c.After == "not as claimed" == worse)
        .GroupBy(c => (c.Before, c.After)).OrderByDescending(g => g.Count())
        .Select(
            g => $"{(worse || g.Count() <= Named ? Names.Some(g.Select(c => c.Card)) : $"{Wording.Number(g.Count())} cards")}: "
                + $"{g.Key.Before}, now {g.Key.After}.");

    /// <summary>Cards whose verdict did not become worse are named up to so many.</summary>
    private const int Named = 4;
}
