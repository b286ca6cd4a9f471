using Cardassay.Collector.Analysis.CrossChecks;
using Cardassay.Collector.Report.Model;
using Cardassay.Identity;

namespace Cardassay.Collector.Report.First;

/// <summary>What one should not take for the profile, and why: what is not as claimed, what misses a floor, what stalls.</summary>
internal static class AvoidPart
{
    /// <summary>Cards measured as another thing than claimed, each product with its most telling reason.</summary>
    public static IEnumerable<string> NotAsClaimed(IEnumerable<ReportCard> cards) =>
        SendBackPart.ToReturn(cards)
            .GroupBy(c => (Names.ProductOrTitle(c), c.Findings[0].Text))
            .Select(same => $"{ProductAndTags([.. same])}: {same.Key.Text}");

    /// <summary>Products too slow for the profile or with long stalls, in a sentence each; none where there is none.</summary>
    /// <param name="cards">The cards to speak of.</param>
    /// <param name="profile">Name of the profile.</param>
    public static IEnumerable<string> TooSlow(IReadOnlyList<ReportCard> cards, string profile)
    {
        // A used card says nothing of what is sold new.
        ReportCard[] asClaimed = [.. cards.Where(c => c.VerdictKind != VerdictKind.NotAsClaimed && c.Condition != "used")];
        string[] slow = [.. ByProduct(asClaimed.Where(c => c.MissedFloors.Length > 0), c => ", floor " + c.MissedFloors)];
        if (slow.Length > 0)
        {
            yield return $"Below the floors of {profile}: {Names.Some(slow)}.";
        }

        string[] stalling = [.. ByProduct(asClaimed.Where(c => c.Findings.Any(f => f.Id == CheckIds.LongStall)), _ => "")];
        if (stalling.Length > 0)
        {
            yield return $"Long stalls: {Names.Some(stalling)}.";
        }
    }

    private static IEnumerable<string> ByProduct(IEnumerable<ReportCard> cards, Func<ReportCard, string> why) =>
        cards.GroupBy(c => (Name: Names.ProductOrTitle(c), Why: why(c))).Select(same => ProductAndTags([.. same]) + same.Key.Why);

    private static string ProductAndTags(ReportCard[] cards) =>
        cards[0].Product.Length > 0
            ? $"{cards[0].Product} ({string.Join(", ", cards.Select(c => c.Title))})"
            : Names.List(cards.Select(c => c.Title));
}
