using Cardassay.Collector.Analysis.CrossChecks;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Report.Building;

/// <summary>What follows from holding boards against each other: sentences for everybody.</summary>
internal static class BoardSentences
{
    /// <summary>Pairs named.</summary>
    private const int Named = 3;

    /// <summary>The sentences; none where no two boards were linked by a card.</summary>
    public static IReadOnlyList<string> Of(IReadOnlyList<BoardPair> pairs, IReadOnlyList<ReportCard> cards)
    {
        string least = Figure.Of(BoardComparison.LeastPercent, 0).Text;
        if (pairs.Count == 0)
        {
            return [];
        }

        BoardPair[] findings = [.. pairs.Where(p => p.IsFinding).OrderByDescending(p => Math.Abs(p.LargestPercent)).ThenBy(p => p.Slower, StringComparer.Ordinal)];
        if (findings.Length > 0)
        {
            return
            [
                string.Join("; ", findings.Take(Named).Select(p => $"{p.Slower} is slower than {p.Faster} by {Figure.Of(Math.Abs(p.LargestPercent), 1).Text} %"))
                    + (findings.Length > Named ? $" ({Wording.Number(findings.Length - Named)} more)" : "") + ". Every ranking has it taken out.",
            ];
        }

        string[] apart = [.. Apart(pairs).Select(b =>
            $"{b.Board} is surely {(b.IsSlower ? "slower" : "faster")} than every other board, by {Figure.Of(b.Pairs.Min(p => Math.Abs(p.Percent)), 1).Text} to "
            + $"{Figure.Of(b.Pairs.Max(p => Math.Abs(p.Percent)), 1).Text} % (taken out of all ranks).{OnlyThere(b.Board, cards)}")];
        return apart.Length > 0 ? apart : [$"No two boards were shown to differ by {least} % or more, which does not show them equal."];
    }

    /// <summary>A board that differs from every other one for certain, yet by less than is worth a finding, is named, so that it is not acquitted in silence.</summary>
    private static IEnumerable<(string Board, bool IsSlower, BoardPair[] Pairs)> Apart(IReadOnlyList<BoardPair> pairs) => pairs.SelectMany(p => new[] { p.Slower, p.Faster })
        .Distinct().Order(StringComparer.Ordinal)
        .Select(board => (Board: board, Pairs: pairs.Where(p => p.Slower == board || p.Faster == board).ToArray()))
        .Where(b => b.Pairs.Length > 1 && b.Pairs.All(p => p is { Differs: true, IsFinding: false }) && (b.Pairs.All(p => p.Slower == b.Board) || b.Pairs.All(p => p.Faster == b.Board)))
        .Select(b => (b.Board, b.Pairs[0].Slower == b.Board, b.Pairs));

    private static string OnlyThere(string board, IReadOnlyList<ReportCard> cards)
    {
        string[] only = [.. cards.Where(c => c.Runs.Count > 0 && c.Runs.All(r => r.Board == board)).Select(c => c.Title).Order(StringComparer.Ordinal)];
        return only.Length == 0 ? "" : $" {First.Names.Some(only)} ran only there.";
    }
}
