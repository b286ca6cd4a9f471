using Cardassay.Collector.Analysis.Cards;
using Cardassay.Collector.Analysis.Statistics;

namespace Cardassay.Collector.Analysis.CrossChecks;

/// <summary>
/// Decides which tests hold when all tests of one check over all cards are counted (Holm): a laboratory in which nothing is wrong sees
/// a false finding of a check in at most 1 % of cases, however many cards it has.
/// </summary>
internal static class Holding
{
    public const double Alpha = 0.01;

    /// <summary>Findings that hold, by position of the card.</summary>
    public static IEnumerable<(int Card, CardFinding Finding)> Of(IReadOnlyList<IReadOnlyList<TestCandidate>> cards)
    {
        var checks = cards.SelectMany((tests, card) => tests.Select(test => (Card: card, Test: test))).GroupBy(x => x.Test.Check).OrderBy(g => g.Key, StringComparer.Ordinal);
        foreach (var check in checks)
        {
            (int Card, TestCandidate Test)[] all = [.. check];
            double[] adjusted = Holm.Adjust([.. all.Select(x => x.Test.P)]);
            for (int i = 0; i < all.Length; i++)
            {
                if (adjusted[i] <= Alpha && all[i].Test.Finding is { } finding)
                {
                    yield return (all[i].Card, finding());
                }
            }
        }
    }
}
