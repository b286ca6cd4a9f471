using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Analysis.Statistics;

namespace Cardassay.Collector.Analysis.Ranking;

/// <summary>How much the order depends on the weights: ranks of the point values under 1,000 draws of the weights.</summary>
internal static class Sensitivity
{
    public const int Draws = 1000;

    // A failing card stays below the passing ones whatever the weights; no composite spans this many powers of e.
    private const double FailingBelow = 1000;

    /// <summary>Best and worst rank of each card, and the 5th percentile of tau-b against the profile's own weights.</summary>
    /// <param name="profile">Profile whose weights are drawn around.</param>
    /// <param name="cards">Medians of each card in the order of the profile, and whether it fails a floor.</param>
    /// <param name="seed">Seed of the draws.</param>
    public static ((int Best, int Worst)[] Ranks, double? Tau) Of(
        UseProfile profile, IReadOnlyList<(IReadOnlyList<double> Figures, bool Fails)> cards, int seed)
    {
        int k = cards.Count, metrics = profile.Metrics.Count;
        var ranges = new (int Best, int Worst)[k];
        Array.Fill(ranges, (int.MaxValue, 0));
        double[][] ratios = [.. cards.Select(c => c.Figures.Select((f, i) => profile.LogRatio(i, f)).ToArray())];
        double[] own = Scores(ratios, [.. profile.Metrics.Select(m => m.Weight)]);
        double[][] draws = DirichletWeights.Draw([.. profile.Metrics.Select(m => m.Weight)], Draws, seed);
        var taus = new double?[Draws];
        var gate = new Lock();
        Parallel.For(0, Draws, () => Fresh(k), (draw, _, local) =>
        {
            double[] scores = Scores(ratios, draws[draw]);
            for (int i = 0; i < k; i++)
            {
                (local.Negative[i], local.Order[i]) = (-scores[i], i);
            }

            Array.Sort(local.Negative, local.Order);
            for (int r = 0, first = 0; r < k; r++)
            {
                first = r > 0 && local.Negative[r] == local.Negative[r - 1] ? first : r;
                ref (int Best, int Worst) range = ref local.Ranges[local.Order[r]];
                range = (Math.Min(range.Best, first + 1), Math.Max(range.Worst, first + 1));
            }

            taus[draw] = KendallTau.B(own, scores);
            return local;
        }, local =>
        {
            lock (gate)
            {
                for (int i = 0; i < k; i++)
                {
                    ranges[i] = (Math.Min(ranges[i].Best, local.Ranges[i].Best), Math.Max(ranges[i].Worst, local.Ranges[i].Worst));
                }
            }
        });

        double[] known = [.. taus.OfType<double>().Order()];
        return (ranges, known.Length == 0 ? null : known[known.Length / 20]);

        double[] Scores(double[][] logs, double[] weights)
        {
            var scores = new double[k];
            for (int i = 0; i < k; i++)
            {
                double sum = cards[i].Fails ? -FailingBelow : 0;
                for (int m = 0; m < metrics; m++)
                {
                    sum += weights[m] * logs[i][m];
                }

                scores[i] = sum;
            }

            return scores;
        }
    }

    private static (double[] Negative, int[] Order, (int Best, int Worst)[] Ranges) Fresh(int k)
    {
        var ranges = new (int, int)[k];
        Array.Fill(ranges, (int.MaxValue, 0));
        return (new double[k], new int[k], ranges);
    }
}
