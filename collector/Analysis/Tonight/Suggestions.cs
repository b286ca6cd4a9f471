using System.Runtime.InteropServices;
using Cardassay.Collector.Analysis.CardBoard;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Ranking;
using Cardassay.Trials;
using static System.FormattableString;

namespace Cardassay.Collector.Analysis.Tonight;

/// <summary>
/// Proposes runs for tonight. Every proposal counts the open questions that one run brings nearer: which cards differ, is a floor reached, is a rank
/// firm, what links the boards, does the rig drift, is the capacity there. Questions per hour make the order. Cards that are settled, convicted or absent are
/// left alone, and so are a board's own disk and boards that no cards are tested on.
/// </summary>
internal static class Suggestions
{
    /// <summary>A reference card is due on a board after this.</summary>
    public static readonly TimeSpan ReferenceEvery = TimeSpan.FromDays(7);

    /// <summary>The plan of a capacity proof, as the agent's command is called.</summary>
    public const string ProofPlan = "prove";

    /// <summary>Fewer cards than this that were on a board and on another one tie it to the others too loosely.</summary>
    private const int FewLinks = 3;

    // A board or a card that was not seen for longer is not expected to be there tonight.
    private static readonly TimeSpan Expected = TimeSpan.FromDays(14);

    /// <param name="data">The snapshot.</param>
    /// <param name="result">The analysis of it.</param>
    /// <param name="notAsClaimed">Cards whose verdict is "not as claimed".</param>
    public static IReadOnlyList<Suggestion> Of(MasterData data, AnalysisResult result, IReadOnlySet<string> notAsClaimed)
    {
        var cost = new RunCost(result.Works);
        RankingTable? table = result.Rankings.Count == 0 ? null : result.Rankings[0];
        string[] boards = TestBoards(data, table?.Context);
        HashSet<string> leftAlone = [.. notAsClaimed, .. AbsentOf(data, result.Cards)];
        CardResult[] cards = [.. result.Cards.Where(c => !leftAlone.Contains(c.Name) && !c.IsOwnDisk)];
        var repetition = new RepetitionNeeds(table, leftAlone);
        List<Suggestion> all =
        [
            .. cards.SelectMany(card => ForCard(card, table, repetition, cost, result.Options)),
            .. References(data, cards, cost, boards),
            .. table is null ? [] : Links(table, cards, cost, boards).Concat(MoreLinks(table, cards, cost, boards)),
        ];
        return
        [
            .. all.OrderByDescending(s => s.ClosesPerHour).ThenBy(s => s.Name, StringComparer.Ordinal).ThenBy(s => s.Kind).ThenBy(s => s.Board, StringComparer.Ordinal),
        ];
    }

    private static IEnumerable<Suggestion> ForCard(CardResult card, RankingTable? table, RepetitionNeeds repetition, RunCost cost, AnalysisOptions options)
    {
        if (card.Runs.Count == 0)
        {
            if (card.Claim is not null && table?.Cards.Any(c => c.Name == card.Name) != true)
            {
                yield return new Suggestion
                {
                    Name = card.Name,
                    Kind = SuggestionKind.FirstRun,
                    Reason = "It is claimed and was never measured.",
                    Plan = table?.Context.Plan,
                    Hours = cost.HoursOf(card),
                    Closes = 2,
                };
            }

            yield break;
        }

        if (repetition.For(card, cost.HoursOf(card)) is { } more)
        {
            yield return more;
        }

        if (options.CapacitySettled is { } settled && !settled.Contains(card.Name) && cost.ProofHours(card) is { } proofHours)
        {
            yield return new Suggestion
            {
                Name = card.Name,
                Kind = SuggestionKind.ProveCapacity,
                Reason = "Its capacity is not proven; a proof over the whole address range destroys what is on the card.",
                Plan = ProofPlan,
                Hours = proofHours,
                Closes = 2,
            };
        }
    }

    /// <summary>A run that links two parts tells every card of one from every card of the other, as far as figures can: each pair is a question.</summary>
    private static IEnumerable<Suggestion> Links(RankingTable table, CardResult[] cards, RunCost cost, string[] boards)
    {
        foreach (LinkingRun link in table.Links.Where(l => boards.Contains(l.Board)))
        {
            if (Array.Find(cards, c => c.Name == link.Card) is { } card)
            {
                int own = table.Cards.First(c => c.Name == card.Name).Part;
                int there = PartOf(table, link.Board);
                yield return new Suggestion
                {
                    Name = card.Name,
                    Board = link.Board,
                    Kind = SuggestionKind.Link,
                    Reason = $"Nothing links the cards of {link.Board} with its own: this run does, and until then no order between them is known.",
                    Plan = table.Context.Plan,
                    Hours = cost.HoursOf(card),
                    Closes = table.Cards.Count(c => c.Part == own) * table.Cards.Count(c => c.Part == there),
                };
            }
        }
    }

    private static int PartOf(RankingTable table, string board)
    {
        CardBoardFit fit = table.Order!.Metrics[0].Fit;
        int card = Enumerable.Range(0, table.Cards.Count).First(k => table.Order.Cards[k].Places is { } p && fit.Series[p[0]].Figures.Any(f => f.Board == board));
        return table.Cards[card].Part;
    }

    /// <summary>A board that only one or two cards tie to the others makes every comparison across it as poor as these.</summary>
    private static IEnumerable<Suggestion> MoreLinks(RankingTable table, CardResult[] cards, RunCost cost, string[] boards)
    {
        CardBoardFit fit = table.Order!.Metrics[0].Fit;
        var ranked = table.Cards.Where(r => !r.IsHandKept).Select(r => r.Name).ToHashSet(StringComparer.Ordinal);
        for (int b = 0; b < fit.Boards.Count; b++)
        {
            int board = b;
            bool alone = fit.Fit.BoardParts.Count(p => p == fit.Fit.BoardParts[board]) == 1;
            int links = fit.Fit.Moving.Count(k => fit.Fit.Count(k, board) > 0);
            if (alone || links >= FewLinks || !boards.Contains(fit.Boards[board]))
            {
                continue;
            }

            CardResult? card = cards.Where(c => ranked.Contains(c.Name) && c.Runs.All(r => r.Board != fit.Boards[board]))
                .OrderBy(cost.HoursOf).ThenBy(c => c.Name, StringComparer.Ordinal).FirstOrDefault();
            if (card is not null)
            {
                yield return new Suggestion
                {
                    Name = card.Name,
                    Board = fit.Boards[board],
                    Kind = SuggestionKind.OtherBoard,
                    Reason = Invariant($"Only {links} card{(links == 1 ? " ties" : "s tie")} {fit.Boards[board]} to the other boards; every comparison across it is as poor as that."),
                    Plan = table.Context.Plan,
                    Hours = cost.HoursOf(card),
                    Closes = 1,
                };
            }
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
                    Plan = card.Runs.Where(r => r.Pooled > 0).Select(r => r.Context.Plan).LastOrDefault() ?? card.Runs[^1].Context.Plan,
                    Hours = cost.HoursOf(card),
                    Closes = 2,
                };
            }
        }
    }

    /// <summary>Boards that test cards the way the ranking has it and were heard of lately.</summary>
    private static string[] TestBoards(MasterData data, MeasuringContext? context)
    {
        var last = data.Boards.Where(b => b.LastSeen is not null).ToDictionary(b => b.Name, b => b.LastSeen!.Value, StringComparer.Ordinal);
        return
        [
            .. LastRuns(data, context).Select(b => (Board: b.Key, Seen: b.Value))
                .Where(b => data.AsOf - (last.TryGetValue(b.Board, out DateTimeOffset seen) && seen > b.Seen ? seen : b.Seen) <= Expected)
                .Select(b => b.Board).Order(StringComparer.Ordinal),
        ];
    }

    private static Dictionary<string, DateTimeOffset> LastRuns(MasterData data, MeasuringContext? context)
    {
        var last = new Dictionary<string, DateTimeOffset>(StringComparer.Ordinal);
        foreach (RunRecord run in data.Runs)
        {
            if (context is null || (run.Opened.Target == context.Target && run.Opened.Attachment == context.Attachment))
            {
                ref DateTimeOffset seen = ref CollectionsMarshal.GetValueRefOrAddDefault(last, run.Board, out bool known);
                seen = known && seen > run.ReceivedAt ? seen : run.ReceivedAt;
            }
        }

        return last;
    }

    private static IEnumerable<string> AbsentOf(MasterData data, IReadOnlyList<CardResult> cards)
    {
        DateOnly since = Night.Of(data.AsOf - Expected);
        return cards.Where(c => c.Runs.Count > 0 && c.Runs[^1].Night < since).Select(c => c.Name);
    }
}
