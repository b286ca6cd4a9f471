using Cardassay.Collector.Analysis.CardBoard;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Statistics;
using MathNet.Numerics.Distributions;

namespace Cardassay.Collector.Analysis.CrossChecks;

/// <summary>
/// Boards against each other, from the card + board model (METHOD rule 9). One question per pair of boards: do they differ, in the mean over all metrics
/// or in any of them? Holm over the pairs. A difference counts as a finding from 3 % on.
/// </summary>
internal sealed class BoardComparison
{
    /// <summary>Level over all pairs of boards (Holm).</summary>
    public const double Alpha = 0.01;

    /// <summary>Least difference of two boards worth a finding, %.</summary>
    public const double LeastPercent = 3;

    private const string Together = "all metrics together";

    public IReadOnlyList<BoardEffect> Effects { get; private init; } = [];

    public IReadOnlyList<BoardPair> Pairs { get; private init; } = [];

    public IReadOnlyList<BoardPrecision> Precision { get; private init; } = [];

    /// <summary>Compares the boards.</summary>
    /// <param name="fits">The models.</param>
    public static BoardComparison Of(LaboratoryFits fits)
    {
        List<BoardPair> pairs = [];
        foreach (IGrouping<MeasuringContext, CardBoardFit> context in fits.All.Where(f => f.Boards.Count > 1).GroupBy(f => f.Key.Context))
        {
            pairs.AddRange(PairsOf([.. context]));
        }

        double[] adjusted = Holm.Adjust([.. pairs.Select(p => p.P)]);
        pairs = [.. pairs.Select((p, i) => p with { P = adjusted[i] })];
        return new BoardComparison
        {
            Pairs = pairs,
            Effects = [.. fits.All.Where(f => f.Boards.Count > 1).SelectMany(f => EffectsOf(f, pairs))],
            Precision = [.. fits.All.Select(PrecisionOf).OfType<BoardPrecision>()],
        };
    }

    private static IEnumerable<BoardPair> PairsOf(CardBoardFit[] fits)
    {
        CardBoardFit[] together = MeanOf(fits) is { } mean ? [mean, .. fits] : fits;
        BoardNights[] nights = Array.ConvertAll(together, f => new BoardNights(f));
        string[] boards = [.. fits.SelectMany(f => f.Boards).Distinct().Order(StringComparer.Ordinal)];
        for (int a = 0; a < boards.Length; a++)
        {
            for (int b = a + 1; b < boards.Length; b++)
            {
                (CardBoardFit Fit, double Log, double P, int Cards)[] asked =
                [
                    .. together.Select((f, i) => Compare(f, nights[i], boards[a], boards[b]) is (double log, double p, int cards) ? (f, log, p, cards) : default).Where(x => x.Item1 is not null),
                ];
                if (asked.Length > 0)
                {
                    yield return PairOf(boards[a], boards[b], asked, together[0] != fits[0]);
                }
            }
        }
    }

    /// <summary>The mean counts for one question and all single metrics for another, so neither is drowned by the other.</summary>
    private static BoardPair PairOf(string one, string other, (CardBoardFit Fit, double Log, double P, int Cards)[] asked, bool hasMean)
    {
        bool first = hasMean && asked.Length > 1;
        var mean = asked[0];
        var metrics = first ? asked[1..] : asked;
        double[] corrected = [.. metrics.Select(m => m.P * metrics.Length * (first ? 2 : 1))];
        double p = Math.Min(1, Math.Min(first ? 2 * mean.P : 1, corrected.Min()));
        IEnumerable<(double Log, string In)> holding = metrics.Where((_, i) => corrected[i] <= Alpha).Select(m => (m.Log, m.Fit.Key.TrialText));
        (double largest, string where) = holding.Concat(first && 2 * mean.P <= Alpha ? [(mean.Log, Together)] : []).DefaultIfEmpty((0, Together)).MaxBy(h => Math.Abs(h.Item1));
        double log = first ? mean.Log : metrics.MaxBy(m => Math.Abs(m.Log)).Log;
        double sign = largest != 0 ? Math.Sign(largest) : Math.Sign(log);
        (string slower, string faster) = sign < 0 ? (one, other) : (other, one);
        return new BoardPair(
            slower, faster, metrics[0].Fit.Key, metrics.Length, Percent(-sign * log), Percent(-Math.Abs(largest)), where, p, asked.Max(m => m.Cards));
    }

    private static double Percent(double log) => 100 * (Math.Exp(log) - 1);

    /// <summary>The model of the mean over the metrics that most cards of a context have; null with fewer than two.</summary>
    private static CardBoardFit? MeanOf(CardBoardFit[] fits)
    {
        int most = fits.Max(f => f.Series.Count);
        CardBoardFit[] common = [.. fits.Where(f => 2 * f.Series.Count >= most)];
        if (common.Length < 2)
        {
            return null;
        }

        SeriesRuns[] means =
        [
            .. common.SelectMany(f => f.Series).GroupBy(s => (s.Card, s.Key.Context.State)).Where(g => g.Count() == common.Length)
                .Select(g => SeriesRuns.MeanOf([.. g])).OfType<SeriesRuns>(),
        ];
        return means.Length == 0 ? null : CardBoardFit.Of(common[0].Key, means);
    }

    private static (double Log, double P, int Cards)? Compare(CardBoardFit fit, BoardNights nights, string one, string other)
    {
        int a = IndexOf(fit, one), b = IndexOf(fit, other);
        if (a < 0 || b < 0 || fit.Fit.BoardParts[a] != fit.Fit.BoardParts[b])
        {
            return null;
        }

        double[] parts = fit.Fit.DifferenceVarianceParts(a, b);
        double variance = fit.Fit.DifferenceVariance(a, b), squares = 0;
        int cards = 0;
        for (int m = 0; m < parts.Length; m++)
        {
            int k = fit.Fit.Moving[m];
            squares += parts[m] == 0 ? 0 : parts[m] * parts[m] / fit.VarianceDf[k];
            cards += fit.Fit.Count(k, a) > 0 && fit.Fit.Count(k, b) > 0 ? 1 : 0;
        }

        // One card that was on both may itself have changed on the way: that says nothing of boards.
        double df = Math.Min(fit.TotalDf, squares == 0 ? double.PositiveInfinity : variance * variance / squares);
        if (!(variance > 0) || !(df >= 1) || cards == 1)
        {
            return null;
        }

        double log = fit.Fit.BoardEffects[a] - fit.Fit.BoardEffects[b];

        // By figures, and by nights of the boards: what a night did to all cards of a board must not pass for the board.
        return (log, Math.Max(P(log, variance, df), P(log, nights.Of(a, b), nights.Df)), cards);
    }

    private static double P(double log, double variance, double df) => df <= 0 ? 1 : variance <= 0 ? 0 : 2 * StudentT.CDF(0, 1, df, -Math.Abs(log) / Math.Sqrt(variance));

    private static int IndexOf(CardBoardFit fit, string board)
    {
        for (int b = 0; b < fit.Boards.Count; b++)
        {
            if (fit.Boards[b] == board)
            {
                return b;
            }
        }

        return -1;
    }

    private static IEnumerable<BoardEffect> EffectsOf(CardBoardFit fit, List<BoardPair> pairs)
    {
        for (int b = 0; b < fit.Boards.Count; b++)
        {
            int board = b;
            BoardPair[] own = [.. pairs.Where(p => p.Key.Context == fit.Key.Context && (p.Slower == fit.Boards[board] || p.Faster == fit.Boards[board]))];
            int cards = fit.Fit.Moving.Count(k => fit.Fit.Count(k, board) > 0);
            double error = Math.Sqrt(fit.Fit.EffectVariance(b));
            yield return new BoardEffect(
                fit.Boards[b], fit.Key, cards, Percent(fit.Fit.BoardEffects[b]), cards > 0 && fit.TotalDf > 0 ? 100 * error : null, own.Any(p => p.Differs), own.Any(p => p.IsFinding));
        }
    }

    /// <summary>ISO 5725-2 from three boards on: scatter within a card on a board, and between boards less what of that is scatter.</summary>
    private static BoardPrecision? PrecisionOf(CardBoardFit fit)
    {
        int[] boards = [.. Enumerable.Range(0, fit.Boards.Count).GroupBy(b => fit.Fit.BoardParts[b]).MaxBy(g => g.Count())!];
        double[] known = [.. Enumerable.Range(0, fit.Series.Count).Where(k => !double.IsNaN(fit.Variances[k])).Select(k => fit.Variances[k])];
        if (boards.Length < 3 || known.Length == 0)
        {
            return null;
        }

        double within = known.Average(), mean = boards.Average(b => fit.Fit.BoardEffects[b]);
        double between = boards.Sum(b => Math.Pow(fit.Fit.BoardEffects[b] - mean, 2)) / (boards.Length - 1) - boards.Average(b => fit.Fit.EffectVariance(b));
        double repeatability = VarianceComponents.LimitFactor * Math.Sqrt(within), reproducibility = VarianceComponents.LimitFactor * Math.Sqrt(within + Math.Max(0, between));
        return new BoardPrecision(fit.Key, boards.Length, Percent(repeatability), Percent(reproducibility));
    }
}
