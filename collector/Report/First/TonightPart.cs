using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Report.First;

/// <summary>What the coming night brings, and what would teach most.</summary>
internal static class TonightPart
{
    /// <summary>Proposals named on the page.</summary>
    private const int Named = 3;

    public static IEnumerable<string> Lines(ReportModel model)
    {
        yield return model.Tonight.Count == 0 ? "Nothing is scheduled." : $"Scheduled: {string.Join("; ", model.Tonight)}.";
        foreach (ProposedRun run in model.Proposed.Take(Named))
        {
            string where = run.Board == "any" ? "" : $" on {run.Board}";
            yield return $"Would teach most: {run.Card}{where}, "
                + $"{Wording.Count(run.Runs, "run", "runs")}{(run.Plan.Length > 0 ? $" of {run.Plan}" : "")} ({run.Hours.Text} h). "
                + $"{First(run.Why)}";
        }
    }

    /// <summary>The first sentence; the others stand with the proposals.</summary>
    private static string First(string why) => why.Split(". ") is [var first, _, ..] ? first + "." : why;
}
