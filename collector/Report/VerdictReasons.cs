using Cardassay.Collector.Report.Building;
using Cardassay.Collector.Report.First;
using Cardassay.Collector.Report.Model;
using Cardassay.Identity;

namespace Cardassay.Collector.Report;

/// <summary>The strongest reasons of a verdict: the most telling findings against a card, or what stands for it.</summary>
internal static class VerdictReasons
{
    /// <summary>Reasons named.</summary>
    public const int Most = 3;

    /// <summary>Findings that speak against the card, the most telling first; empty when its verdict rests on none.</summary>
    public static ReportFinding[] Against(ReportCard card) => card.VerdictKind is VerdictKind.NotAsClaimed or VerdictKind.Doubtful
        ? [.. card.Findings.Where(f => f.Severity != "note").Take(Most)] : [];

    /// <summary>The reasons as sentences.</summary>
    public static string[] Of(ReportCard card) => Against(card) is { Length: > 0 } against
        ? [.. against.Select(f => f.Text)] : [.. For(card).Where(r => r.Length > 0).Take(Most)];

    private static IEnumerable<string> For(ReportCard card)
    {
        yield return card.Capacity?.Statement ?? "Its size was never tested.";
        ILookup<bool, ClaimLine> agreeing = card.ClaimLines.Where(l => l.Agreement == "agrees").ToLookup(l => l.Found.EndsWith(ClaimLines.OfDisk, StringComparison.Ordinal));
        string[] agree = [.. agreeing[false].Select(l => l.Name.Split(',')[0].ToLowerInvariant())];
        yield return agree.Length > 0 ? $"Its registers agree with the label in {Names.List(agree)}."
            : !card.IdentityFromRegisters ? "Its registers are hidden: nothing it says of itself was read."
            : "Nothing was claimed that its registers could be held against.";
        yield return agreeing[true].Any() ? "The size of the disk is what the label says, as far as anything the system is told can show it." : "";
        yield return card.Marks.Where(m => m.IsClaimed).GroupBy(m => (m.Outcome, m.Statement)).OrderByDescending(g => g.Count()).FirstOrDefault() is { } marks
            ? $"{Names.List(marks.Select(m => m.Mark))}: {marks.Key.Outcome}, {marks.Key.Statement}." : "";
    }
}
