using Cardassay.Collector.Analysis.Cards;
using Cardassay.Collector.Analysis.Ranking;
using static System.FormattableString;

namespace Cardassay.Collector.Analysis.Tonight;

/// <summary>
/// Proposes runs. Every proposal counts the open questions it is expected to close: is a figure settled, is a floor reached, is a rank
/// firm, are two cards told apart, does a second board agree, does the rig drift, is the capacity there. Questions per hour make the order.
/// Repetitions of one card serve all its questions, so they are one proposal.
/// </summary>
internal static class Suggestions
{
    /// <summary>A reference card is due on a board after this.</summary>
    public static readonly TimeSpan ReferenceEvery = TimeSpan.FromDays(7);

    // A board that was silent for longer is not expected to be there tonight.
    private static readonly TimeSpan BoardExpected = TimeSpan.FromDays(14);

    public static IReadOnlyList<Suggestion> Of(
        MasterData data, IReadOnlyList<CardResult> cards, IReadOnlyDictionary<string, CardWork> works, IReadOnlyList<RankingTable> rankings, AnalysisOptions options)
    {
        var cost = new RunCost(works);
        string[] boards = ExpectedBoards(data);
        RankingTable? table = rankings.Count == 0 ? null : rankings[0];
        var repetition = new RepetitionNeeds(table, cost);
        var all = new List<Suggestion>();
        foreach (CardResult card in cards)
        {
            all.AddRange(ForCard(card, repetition, cost, boards, options));
        }

        all.AddRange(References(data, cards, cost, boards));
        return
        [
            .. all.OrderByDescending(s => s.ClosesPerHour).ThenBy(s => s.Name, StringComparer.Ordinal).ThenBy(s => s.Kind).ThenBy(s => s.Board, StringComparer.Ordinal),
        ];
    }

    private static IEnumerable<Suggestion> ForCard(CardResult card, RepetitionNeeds repetition, RunCost cost, string[] boards, AnalysisOptions options)
    {
        if (card.Runs.Count == 0)
        {
            if (card.Claim is not null)
            {
                yield return new Suggestion
                {
                    Name = card.Name,
                    Kind = SuggestionKind.FirstRun,
                    Reason = "It is claimed and was never measured.",
                    Hours = cost.HoursOf(card),
                    Closes = 2,
                };
            }

            yield break;
        }

        if (repetition.For(card) is { } more)
        {
            yield return more;
        }

        string[] seen = [.. card.Runs.Select(r => r.Board).Distinct()];
        string? other = boards.FirstOrDefault(b => !seen.Contains(b));
        if (seen.Length == 1 && other is not null && card.Metrics.Any(m => !m.IsRangeOnly))
        {
            yield return new Suggestion
            {
                Name = card.Name,
                Board = other,
                Kind = SuggestionKind.OtherBoard,
                Reason = $"It was measured on {seen[0]} only; a second board shows whether the figures are the card's.",
                Plan = card.Runs[^1].Context.Plan,
                Hours = cost.HoursOf(card),
                Closes = 1,
            };
        }

        if (options.CapacitySettled is { } settled && !settled.Contains(card.Name) && cost.ProofHours(card) is { } proofHours)
        {
            yield return new Suggestion
            {
                Name = card.Name,
                Kind = SuggestionKind.ProveCapacity,
                Reason = "Its capacity is not proven; a proof over the whole address range destroys what is on the card.",
                Hours = proofHours,
                Closes = 2,
            };
        }
    }

    private static IEnumerable<Suggestion> References(MasterData data, IReadOnlyList<CardResult> cards, RunCost cost, string[] boards)
    {
        CardResult[] references = [.. cards.Where(c => c.Claim?.IsReference == true && c.Runs.Count > 0)];
        foreach (string board in references.Length == 0 ? [] : boards)
        {
            (CardResult Card, DateOnly? Last)[] last =
            [
                .. references.Select(c => (c, c.Runs.Where(r => r.Board == board).Select(r => (DateOnly?)r.Night).Max())).OrderByDescending(x => x.Item2),
            ];
            int? days = DateOnly.FromDateTime(data.AsOf.UtcDateTime).DayNumber - last[0].Last?.DayNumber;
            if (days is null || days >= ReferenceEvery.TotalDays)
            {
                CardResult card = last[0].Card;
                yield return new Suggestion
                {
                    Name = card.Name,
                    Board = board,
                    Kind = SuggestionKind.Reference,
                    Reason = days is null ? $"No reference card was ever measured on {board}." : Invariant($"The last reference run on {board} was {days} days ago; without one drift of the board and of the cards cannot be told apart."),
                    Plan = card.Runs[^1].Context.Plan,
                    Hours = cost.HoursOf(card),
                    Closes = 2,
                };
            }
        }
    }

    private static string[] ExpectedBoards(MasterData data)
    {
        var last = new SortedDictionary<string, DateTimeOffset>(StringComparer.Ordinal);
        foreach ((string name, DateTimeOffset? at) in data.Boards.Select(b => (b.Name, b.LastSeen)).Concat(data.Runs.Select(r => (r.Board, (DateTimeOffset?)r.ReceivedAt))))
        {
            if (at is { } moment && (!last.TryGetValue(name, out DateTimeOffset before) || before < moment))
            {
                last[name] = moment;
            }
        }

        return [.. last.Where(b => data.AsOf - b.Value <= BoardExpected).Select(b => b.Key)];
    }
}
