using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Ranking;
using Cardassay.Trials;
using static System.FormattableString;

namespace Cardassay.Collector.Analysis.Tonight;

/// <summary>
/// What one more run of a card, tonight, would do for the questions that runs on further nights answer. A second run of the same night on the same board
/// counts with the first, so never more than one is proposed.
/// </summary>
internal sealed class RepetitionNeeds
{
    private readonly RankingTable? _table;
    private readonly Dictionary<string, RankedCard> _ranked;
    private readonly ILookup<string, (PairSeparation Pair, string Other, int More)> _pairs;

    public RepetitionNeeds(RankingTable? table, IReadOnlySet<string> leftAlone)
    {
        _table = table;
        _ranked = (table?.Cards ?? []).ToDictionary(c => c.Name, StringComparer.Ordinal);
        _pairs = (table?.Separations ?? []).Where(p => p is { IsReachable: true, IsLinking: false } && !leftAlone.Contains(p.Better) && !leftAlone.Contains(p.Worse))
            .SelectMany(p => new[] { (p.Better, Pair: p, Other: p.Worse, More: p.MoreOnBetter), (p.Worse, Pair: p, Other: p.Better, More: p.MoreOnWorse) })
            .Where(x => x.More > 0).ToLookup(x => x.Item1, x => (x.Pair, x.Other, x.More), StringComparer.Ordinal);
    }

    /// <summary>One proposal for all these questions, or null.</summary>
    public Suggestion? For(CardResult card, double hours)
    {
        if (_table is null || _ranked.GetValueOrDefault(card.Name) is not { IsHandKept: false } row)
        {
            return null;
        }

        var needs = new List<(SuggestionKind Kind, double Closes, string Reason, string? Board)>();
        int nights = Math.Max(RankedCards.LeastRuns - row.Runs, 2 - row.Nights);
        if (row.IsProvisional)
        {
            nights = Math.Max(1, nights);
            needs.Add((SuggestionKind.Settle, 1.0 / nights, Invariant($"Its rank is provisional; {nights} more night{(nights == 1 ? "" : "s")} would do."), null));
        }

        needs.AddRange(row.FloorChecks.Where(f => f.State == FloorState.Undecided).Select(f => Floor(row, f)).OfType<(SuggestionKind, double, string, string?)>());
        (PairSeparation Pair, string Other, int More)[] pairs = [.. _pairs[card.Name].OrderBy(p => p.Pair.MoreOnBetter + p.Pair.MoreOnWorse)];
        if (pairs.Length > 0)
        {
            (PairSeparation pair, string other, int more) = pairs[0];
            string rest = pairs.Length == 1 ? "" : Invariant($" and {pairs.Length - 1} more");
            needs.Add((SuggestionKind.Separate, pairs.Sum(p => 1.0 / (p.Pair.MoreOnBetter + p.Pair.MoreOnWorse)),
                Invariant($"Told apart from {other}{rest} by about {more} more night{(more == 1 ? "" : "s")} of it{(pair.MoreOnBetter > 0 && pair.MoreOnWorse > 0 ? Invariant($" and {pair.MoreOnBetter + pair.MoreOnWorse - more} of the other") : "")}."), pair.Board));
        }

        return needs.Count == 0 ? null : new Suggestion
        {
            Name = card.Name,
            Kind = needs.MaxBy(n => n.Closes).Kind,
            Board = needs.Select(n => n.Board).FirstOrDefault(b => b is not null),
            Reason = string.Join(' ', needs.Select(n => n.Reason)),
            Plan = _table.Context.Plan,
            Hours = hours,
            Closes = needs.Sum(n => n.Closes),
        };
    }

    /// <summary>Half widths shrink with the root of the number of runs; a floor too close to the level is out of reach.</summary>
    private (SuggestionKind, double, string, string?)? Floor(RankedCard row, FloorCheck check)
    {
        int metric = _table!.UsedProfile!.Metrics.Select((m, i) => (m.Kind, i)).First(m => m.Kind == check.Kind).i;
        double level = row.Figures[metric], half = Math.Abs(Math.Log(check.High / check.Low)) / 2, gap = Math.Abs(Math.Log(level / check.Floor));
        double needed = half == 0 ? 1 : gap == 0 ? double.PositiveInfinity : row.Runs * (half / gap * (half / gap) - 1);
        if (needed > PairSeparations.Most)
        {
            return null;
        }

        int nights = Math.Max(1, (int)Math.Ceiling(needed));
        return (SuggestionKind.DecideFloor, 1.0 / nights,
            Invariant($"The floor of {TrialFigure.Text(check.Floor)} {TrialFigure.UnitOf(check.Kind)} in {TrialKinds.WordsOf(check.Kind)} is undecided; about {nights} more night{(nights == 1 ? "" : "s")}."), null);
    }
}
