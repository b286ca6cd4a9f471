using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Ranking;
using static System.FormattableString;

namespace Cardassay.Collector.Analysis.Tonight;

/// <summary>How many more runs of a card its open questions need, and which of them these would close.</summary>
internal sealed class RepetitionNeeds
{
    /// <summary>Last look: a figure not settled by then is called so (METHOD rule 2).</summary>
    public const int LastLook = 30;

    private readonly RankingTable? _table;
    private readonly RunCost _cost;
    private readonly Dictionary<string, RankedCard> _ranked;
    private readonly Dictionary<string, (PairSeparation Pair, int More)> _nearest = new(StringComparer.Ordinal);

    public RepetitionNeeds(RankingTable? table, RunCost cost)
    {
        _table = table;
        _cost = cost;
        _ranked = (table?.Cards ?? []).ToDictionary(c => c.Name, StringComparer.Ordinal);
        foreach (PairSeparation pair in (table?.Separations ?? []).Where(s => s.IsReachable).OrderBy(s => s.MoreOnBetter + s.MoreOnWorse))
        {
            Note(pair.Better, pair, pair.MoreOnBetter);
            Note(pair.Worse, pair, pair.MoreOnWorse);
        }
    }

    /// <summary>One proposal for all questions that more repetitions can close, or null.</summary>
    public Suggestion? For(CardResult card)
    {
        var needs = new List<(SuggestionKind Kind, int Runs, double Closes, string Reason)>();
        MetricSummary[] open = [.. Ranked(card).Where(m => !m.Settled && m.N is > 0 and < LastLook)];
        if (open.Length > 0)
        {
            int runs = open.Max(m => Runs(m, NeededToSettle(m)));
            needs.Add((SuggestionKind.Settle, runs, open.Length, "Not settled: " + string.Join(", ", open.Select(m => Metrics.WordsOf(m.Kind))) + "."));
        }

        if (_ranked.GetValueOrDefault(card.Name) is { } row)
        {
            if (row.IsProvisional && !row.IsHandKept && Ranked(card).Where(m => m.N == row.N).FirstOrDefault() is { } least)
            {
                needs.Add((SuggestionKind.Settle, Runs(least, _table!.LeastRuns), 1, Invariant($"Its rank is provisional below {_table.LeastRuns} repetitions.")));
            }

            AddFloors(card, row, needs);
        }

        if (_nearest.TryGetValue(card.Name, out (PairSeparation Pair, int More) near))
        {
            PairSeparation pair = near.Pair;
            bool both = pair.MoreOnBetter > 0 && pair.MoreOnWorse > 0;
            MetricSummary? metric = Ranked(card).MinBy(m => m.N);
            int runs = metric is null ? near.More : Runs(metric, metric.N + near.More);
            needs.Add((SuggestionKind.Separate, runs, both ? 0.5 : 1,
                Invariant($"Told apart from {(pair.Better == card.Name ? pair.Worse : pair.Better)} by about {near.More} more repetitions{(both ? " of each" : "")}.")));
        }

        if (needs.Count == 0)
        {
            return null;
        }

        (SuggestionKind Kind, int Runs, double Closes, string Reason) main = needs.MaxBy(n => n.Closes / n.Runs);
        var served = needs.Where(n => n.Runs <= main.Runs).ToList();
        return new Suggestion
        {
            Name = card.Name,
            Kind = main.Kind,
            Reason = string.Join(' ', served.Select(n => n.Reason)),
            Plan = card.Runs[^1].Context.Plan,
            Runs = main.Runs,
            Hours = main.Runs * _cost.HoursOf(card),
            Closes = served.Sum(n => n.Closes),
        };
    }

    private void AddFloors(CardResult card, RankedCard row, List<(SuggestionKind, int, double, string)> needs)
    {
        foreach (FloorCheck check in row.FloorChecks.Where(f => f.State == FloorState.Undecided))
        {
            MetricSummary? metric = Ranked(card).FirstOrDefault(m => m.Kind == check.Kind);
            if (metric is null)
            {
                continue;
            }

            // Half widths shrink with the root of n; a floor too close to the median is out of reach.
            double half = (metric.High - metric.Low) / 2, gap = Math.Abs(metric.Median - check.Floor);
            double needed = metric.IsRangeOnly ? 7 : gap == 0 ? double.PositiveInfinity : metric.N * half / gap * (half / gap);
            if (needed <= PairSeparations.Most)
            {
                needs.Add((SuggestionKind.DecideFloor, Runs(metric, (int)Math.Ceiling(needed)), 1,
                    Invariant($"The floor of {Metrics.Format(check.Floor)} {metric.Unit} in {Metrics.WordsOf(metric.Kind)} is undecided.")));
            }
        }
    }

    private IEnumerable<MetricSummary> Ranked(CardResult card) =>
        _table is null ? card.Metrics : card.Metrics.Where(m => _table.Keys.Contains(m.Key));

    private static int NeededToSettle(MetricSummary metric)
    {
        double now = metric.IsRangeOnly ? 0 : metric.Interval!.Value.RelativeHalfWidth / metric.SettledLimit;
        return Math.Clamp((int)Math.Ceiling(metric.N * now * now), Math.Max(7, metric.N + 1), LastLook);
    }

    private static int Runs(MetricSummary metric, int wanted) =>
        Math.Max(1, (int)Math.Ceiling((wanted - metric.N) / (double)RunCost.RepetitionsPerRun(metric)));

    private void Note(string card, PairSeparation pair, int more)
    {
        if (more > 0)
        {
            _nearest.TryAdd(card, (pair, more));
        }
    }
}
