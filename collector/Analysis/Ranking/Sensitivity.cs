using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Analysis.Statistics;

namespace Cardassay.Collector.Analysis.Ranking;

/// <summary>How much the order depends on the weights: ranks of the point values under 1,000 draws of the weights.</summary>
internal sealed class Sensitivity
{
    public const int Draws = 1000;

    // A failing card stays below the passing ones whatever the weights; no composite spans this many powers of e.
    private const double FailingBelow = 1000;

    /// <summary>By metric, cards in the order of the own weights.</summary>
    private readonly double[][] _ratios;
    private readonly double[] _below;
    private readonly int[] _order;
    private readonly double[] _own;

    private Sensitivity(UseProfile profile, IReadOnlyList<(IReadOnlyList<double> Figures, bool Fails)> cards)
    {
        double[][] ratios = [.. cards.Select(c => c.Figures.Select((f, i) => profile.LogRatio(i, f)).ToArray())];
        _order = [.. Enumerable.Range(0, cards.Count)];
        _own = [.. cards.Select((c, k) => ratios[k].Select((r, m) => profile.Metrics[m].Weight * r).Sum() - (c.Fails ? FailingBelow : 0))];
        Array.Sort(_own, _order);
        _ratios = [.. profile.Metrics.Select((_, m) => Array.ConvertAll(_order, k => ratios[k][m]))];
        _below = Array.ConvertAll(_order, k => cards[k].Fails ? -FailingBelow : 0);
    }

    /// <summary>Best and worst rank of each card, and the 5th percentile of tau-b against the order under the profile's own weights.</summary>
    /// <param name="profile">Profile whose weights are drawn around.</param>
    /// <param name="cards">Levels of each card in the order of the profile, and whether it fails a floor.</param>
    /// <param name="seed">Seed of the draws.</param>
    public static ((int Best, int Worst)[] Ranks, double? Tau) Of(
        UseProfile profile, IReadOnlyList<(IReadOnlyList<double> Figures, bool Fails)> cards, int seed)
    {
        var sensitivity = new Sensitivity(profile, cards);
        double[][] draws = DirichletWeights.Draw([.. profile.Metrics.Select(m => m.Weight)], Draws, seed);
        var ranges = new (int Best, int Worst)[cards.Count];
        Array.Fill(ranges, (int.MaxValue, 0));
        var taus = new double?[Draws];
        var gate = new Lock();
        Parallel.For(0, Draws, () => new Room(cards.Count), (draw, _, room) =>
        {
            taus[draw] = sensitivity.Rank(draws[draw], room);
            return room;
        }, room =>
        {
            lock (gate)
            {
                for (int i = 0; i < ranges.Length; i++)
                {
                    ranges[i] = (Math.Min(ranges[i].Best, room.Ranges[i].Best), Math.Max(ranges[i].Worst, room.Ranges[i].Worst));
                }
            }
        });

        double[] known = [.. taus.OfType<double>().Order()];
        return (ranges, known.Length == 0 ? null : known[known.Length / 20]);
    }

    // In the order of the own weights, sorting by the drawn ones both ranks the cards and counts the pairs whose order changed.
    private double? Rank(double[] weights, Room room)
    {
        int k = _order.Length;
        _below.CopyTo(room.Scores, 0);
        for (int m = 0; m < weights.Length; m++)
        {
            double weight = weights[m];
            double[] ratios = _ratios[m], scores = room.Scores;
            for (int i = 0; i < scores.Length; i++)
            {
                scores[i] += weight * ratios[i];
            }
        }

        room.Sort.Sort(room.Scores);
        ReadOnlySpan<int> sorted = room.Sort.Places;
        bool tied = false;
        for (int i = k - 1, place = k; i >= 0; i--)
        {
            bool same = i < k - 1 && room.Scores[sorted[i]] == room.Scores[sorted[i + 1]];
            tied |= same || (i < k - 1 && _own[i] == _own[i + 1]);
            place = same ? place : k - i;
            ref (int Best, int Worst) range = ref room.Ranges[_order[sorted[i]]];
            range = (Math.Min(range.Best, place), Math.Max(range.Worst, place));
        }

        return k < 2 ? null : tied ? KendallTau.B(_own, room.Scores) : 1 - 4.0 * KendallTau.Inversions(sorted, room.Seen) / ((double)k * (k - 1));
    }

    private sealed class Room
    {
        public Room(int cards)
        {
            (Scores, Sort, Seen) = (new double[cards], new PlaceSort(cards), new ulong[cards / 64 + 1]);
            Ranges = new (int, int)[cards];
            Array.Fill(Ranges, (int.MaxValue, 0));
        }

        public double[] Scores { get; }

        public PlaceSort Sort { get; }

        public ulong[] Seen { get; }

        public (int Best, int Worst)[] Ranges { get; }
    }
}
