using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Report.First;

/// <summary>Cards without a rank, by reason.</summary>
internal static class UnrankedPart
{
    public static IEnumerable<string> Lines(ReportModel model)
    {
        string[] reasons = [.. model.Cards.Where(c => c.Rank is null && c.Runs.Count > 0).GroupBy(c => c.Unranked)
            .Select(g => $"{Names.Some(g.Select(c => c.Title))}: {g.Key}")];
        return reasons.Length == 0 ? [] : [string.Join("; ", reasons) + "."];
    }
}
