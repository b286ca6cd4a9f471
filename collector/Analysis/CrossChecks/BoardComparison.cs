using Cardassay.Collector.Analysis.Cards;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Statistics;
using Cardassay.Identity;

namespace Cardassay.Collector.Analysis.CrossChecks;

/// <summary>
/// Boards against each other over the cards they share: median polish of cards x boards on logarithms for the size of the effect, a
/// rank test stratified by card (van Elteren, 1960) for whether it is real, variance components for the limits r and R (METHOD rule 9).
/// The unit is the run: repetitions within a run share whatever was special about it.
/// </summary>
internal sealed class BoardComparison
{
    /// <summary>Level over all boards and metrics (Holm).</summary>
    public const double Alpha = 0.01;

    /// <summary>Least effect worth a finding, %.</summary>
    public const double LeastPercent = 3;

    public List<BoardEffect> Effects { get; } = [];

    public List<BoardPrecision> Precision { get; } = [];

    /// <summary>Cards whose boards disagree, by card name.</summary>
    public List<(string Card, CardFinding Finding)> Disagreements { get; } = [];

    public static BoardComparison Of(IEnumerable<CardWork> cards)
    {
        var comparison = new BoardComparison();
        var byKey = new Dictionary<ComparabilityKey, List<(string Card, BoardRuns Runs)>>();
        foreach (CardWork card in cards)
        {
            foreach (BoardRuns runs in card.OnBoards)
            {
                if (!byKey.TryGetValue(runs.Key, out List<(string, BoardRuns)>? list))
                {
                    byKey.Add(runs.Key, list = []);
                }

                list.Add((card.Result.Name, runs));
            }
        }

        foreach ((ComparabilityKey key, List<(string Card, BoardRuns Runs)> shared) in byKey.OrderBy(k => Metrics.OrderOf(k.Key.Kind)).ThenBy(k => k.Key.Text, StringComparer.Ordinal))
        {
            comparison.Compare(key, shared);
        }

        comparison.DecideTogether();
        return comparison;
    }

    private void Compare(ComparabilityKey key, List<(string Card, BoardRuns Runs)> shared)
    {
        string[] boards = [.. shared.SelectMany(s => s.Runs.Cells).Select(c => c.Board).Distinct().Order(StringComparer.Ordinal)];
        Dictionary<string, int> indices = boards.Index().ToDictionary(b => b.Item, b => b.Index, StringComparer.Ordinal);
        var table = new double[shared.Count, boards.Length];
        var ranks = new StratifiedRanks[boards.Length];
        var sums = new (int N, double Sum, double Squares)[boards.Length];
        for (int c = 0; c < shared.Count; c++)
        {
            for (int b = 0; b < boards.Length; b++)
            {
                table[c, b] = double.NaN;
            }

            foreach (BoardCell cell in shared[c].Runs.Cells)
            {
                int b = indices[cell.Board];
                table[c, b] = cell.Median;
                ranks[b].Add(cell);

                // The card's own level is taken out, so that what is left between boards is the boards'.
                sums[b] = (sums[b].N + cell.N, sums[b].Sum + cell.Sum, sums[b].Squares + cell.Squares);
            }
        }

        if (shared.Count >= 2)
        {
            MedianPolish polish = MedianPolish.Of(table);
            for (int b = 0; b < boards.Length; b++)
            {
                Effects.Add(new BoardEffect(boards[b], key, ranks[b].Strata, 100 * (Math.Exp(polish.Columns[b]) - 1), ranks[b].P(), false));
            }
        }

        if (boards.Length >= 3 && VarianceComponents.OfSums([.. sums.Select(s => (s.N, s.Sum / s.N, s.Squares - s.Sum * s.Sum / s.N))]) is { } components)
        {
            Precision.Add(new BoardPrecision(
                key, boards.Length, 100 * (Math.Exp(components.Repeatability) - 1), 100 * (Math.Exp(components.Reproducibility) - 1)));
            FindDisagreements(key, shared, components.Reproducibility);
        }
    }

    private void FindDisagreements(ComparabilityKey key, List<(string Card, BoardRuns Runs)> shared, double limit)
    {
        foreach ((string card, BoardRuns runs) in shared)
        {
            BoardCell low = runs.Cells[0], high = runs.Cells[0];
            foreach (BoardCell cell in runs.Cells)
            {
                low = cell.Median < low.Median ? cell : low;
                high = cell.Median > high.Median ? cell : high;
            }

            double apart = high.Median - low.Median;
            if (apart > limit && apart > Math.Log(1 + LeastPercent / 100))
            {
                Disagreements.Add((card, RigDisagreement(key, runs, low.Board, high.Board, apart, limit)));
            }
        }
    }

    private static CardFinding RigDisagreement(ComparabilityKey key, BoardRuns runs, string low, string high, double apart, double limit)
    {
        CardFinding finding = CardChecks.Finding(
            CheckIds.RigDisagreement, FindingSeverity.Note,
            FormattableString.Invariant($"{high} measures {key.TrialText} of this card {100 * (Math.Exp(apart) - 1):0.0} % faster than {low}, more than the {100 * (Math.Exp(limit) - 1):0.0} % two boards may differ: settle the boards before judging the card."),
            "ISO 5725-6: reproducibility limit R = 2.8 sqrt(s_r^2 + s_L^2)",
            [.. runs.Runs.Where(r => r.Board == low || r.Board == high).Select(r => r.Record)],
            ("slower board", low), ("faster board", high));
        return finding with { Finding = finding.Finding with { Settles = "Run the reference card on both boards." } };
    }

    private void DecideTogether()
    {
        int[] tested = [.. Enumerable.Range(0, Effects.Count).Where(i => Effects[i].P is not null)];
        double[] adjusted = Holm.Adjust([.. tested.Select(i => Effects[i].P!.Value)]);
        for (int i = 0; i < tested.Length; i++)
        {
            BoardEffect effect = Effects[tested[i]];
            Effects[tested[i]] = effect with { IsFinding = adjusted[i] <= Alpha && Math.Abs(effect.Percent) >= LeastPercent };
        }
    }
}
