using Cardassay.Collector.Analysis.CardBoard;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Analysis.Ranking;
using Cardassay.Trials;
using static System.FormattableString;

namespace Cardassay.Collector.Analysis.Explaining;

/// <summary>
/// A card beside the card before it and the one behind it in the list: their difference with its interval, what each metric and each board contributes, and the
/// run figures behind it.
/// </summary>
internal static class NeighbourLines
{
    public static void Add(List<ExplanationLine> lines, RankingTable table, UseProfile profile, string name)
    {
        int own = table.Cards.Select((c, i) => (c.Name, i)).First(c => c.Name == name).i;
        foreach (int other in new[] { own - 1, own + 1 }.Where(i => i >= 0 && i < table.Cards.Count))
        {
            AddPair(lines, table, profile, own, other);
        }

        foreach (PairSeparation pair in table.Separations.Where(s => s.Better == name || s.Worse == name))
        {
            string other = pair.Better == name ? pair.Worse : pair.Better;
            Line(lines, 2, pair.IsLinking ? $"no order with {other} is known: nothing links their boards"
                : pair.IsReachable
                    ? Invariant($"not told apart from {other}: about {(pair.Better == name ? pair.MoreOnBetter : pair.MoreOnWorse)} more nights of this card and {(pair.Better == name ? pair.MoreOnWorse : pair.MoreOnBetter)} of the other on {pair.Board} would do")
                    : Invariant($"not told apart from {other}: even {PairSeparations.Most} more nights would not do; treat them as equal"));
        }
    }

    private static void AddPair(List<ExplanationLine> lines, RankingTable table, UseProfile profile, int own, int other)
    {
        RankOrder order = table.Order!;
        string neighbour = table.Cards[other].Name;
        CardDifference difference = order.Difference(own, other);
        if (double.IsInfinity(difference.Needed))
        {
            Line(lines, 1, Invariant($"beside {neighbour}: {Percent(difference.Log)} now; no interval can be given, {(order.AreLinked(own, other) ? "too little is known of how far figures scatter" : "nothing links their boards")}"));
            return;
        }

        bool told = order.IsSurelyBetter(own, other) || order.IsSurelyBetter(other, own);
        Line(lines, 1, Invariant(
            $"beside {neighbour}: {Percent(difference.Log)} [{Percent(difference.Log - difference.Needed)}, {Percent(difference.Log + difference.Needed)}], together with all other pairs at {100 * RankOrder.JointLevel:0} % ({difference.Df:0} degrees of freedom): {(told ? "told apart" : "not told apart")}"));
        if (order.Cards[own].Places is not { } places || order.Cards[other].Places is not { } others)
        {
            return;
        }

        for (int i = 0; i < order.Metrics.Count; i++)
        {
            CardBoardFit fit = order.Metrics[i].Fit;
            double apart = fit.Fit.CardEffects[places[i]] - fit.Fit.CardEffects[others[i]];
            Line(lines, 2, Invariant($"{TrialKinds.WordsOf(profile.Metrics[i].Kind)}, weight {profile.Metrics[i].Weight}: {Percent(apart)}, plain means {Percent(fit.Fit.Means[places[i]] - fit.Fit.Means[others[i]])}, boards taken out {Boards(fit, places[i], others[i])}"));
            Line(lines, 2, Runs(fit, places[i]), Records(fit, places[i]));
            Line(lines, 2, $"{neighbour}: {Runs(fit, others[i])}", Records(fit, others[i]));
        }
    }

    private static string Boards(CardBoardFit fit, int own, int other)
    {
        string[] parts =
        [
            .. fit.Boards.Select((board, b) => (board, Log: (fit.Fit.Share(own, b) - fit.Fit.Share(other, b)) * fit.Fit.BoardEffects[b])).Where(x => x.Log != 0)
                .Select(x => $"{x.board} {Percent(x.Log)}"),
        ];
        return parts.Length == 0 ? "none: both were on the same boards alike" : string.Join(", ", parts);
    }

    private static string Runs(CardBoardFit fit, int place) =>
        "runs " + string.Join(", ", fit.Series[place].Figures.Select(f => Invariant($"{TrialFigure.Text(Math.Exp(f.Log))} on {f.Board} ({f.Night:MM-dd})")));

    private static RecordKey[] Records(CardBoardFit fit, int place) => [.. fit.Series[place].Figures.Select(f => f.Record)];

    private static string Percent(double log) => Invariant($"{100 * (Math.Exp(log) - 1):+0.0;-0.0;0.0} %");

    private static void Line(List<ExplanationLine> lines, int depth, string text, IReadOnlyList<RecordKey>? records = null) =>
        lines.Add(new ExplanationLine(depth, text, records ?? []));
}
