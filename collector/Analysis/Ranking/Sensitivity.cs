using System.Numerics;
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
    private readonly bool _ownHasEqual;

    private Sensitivity(UseProfile profile, IReadOnlyList<(IReadOnlyList<double> Figures, bool Fails)> cards)
    {
        double[][] ratios = [.. cards.Select(c => c.Figures.Select((f, i) => profile.LogRatio(i, f)).ToArray())];
        _order = [.. Enumerable.Range(0, cards.Count)];
        _own = [.. cards.Select((c, k) => ratios[k].Select((r, m) => profile.Metrics[m].Weight * r).Sum() - (c.Fails ? FailingBelow : 0))];
        Array.Sort(_own, _order);
        _ownHasEqual = _own.Zip(_own.Skip(1)).Any(p => p.First == p.Second);
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
                    ref (int Best, int Worst) range = ref ranges[sensitivity._order[i]];
                    range = (Math.Min(range.Best, room.Best[i]), Math.Max(range.Worst, room.Worst[i]));
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
        Score(weights, room.Scores);
        room.Sort.Sort(room.Scores);
        ReadOnlySpan<int> sorted = room.Sort.Places;
        for (int i = k - 1, place = k; i >= 0; i--)
        {
            bool same = room.Sort.HasEqual && i < k - 1 && room.Scores[sorted[i]] == room.Scores[sorted[i + 1]];
            place = same ? place : k - i;
            int card = sorted[i];
            (room.Best[card], room.Worst[card]) = (Math.Min(room.Best[card], place), Math.Max(room.Worst[card], place));
        }

        return k < 2 ? null
            : room.Sort.HasEqual || _ownHasEqual ? KendallTau.B(_own, room.Scores)
            : 1 - 4.0 * room.Inversions.Of(sorted) / ((double)k * (k - 1));
    }

    private void Score(double[] weights, double[] scores)
    {
        int i = 0;
        for (; i <= scores.Length - Vector<double>.Count; i += Vector<double>.Count)
        {
            var some = new Vector<double>(_below, i);
            for (int m = 0; m < weights.Length; m++)
            {
                some += weights[m] * new Vector<double>(_ratios[m], i);
            }

            some.CopyTo(scores, i);
        }

        for (; i < scores.Length; i++)
        {
            scores[i] = _below[i];
            for (int m = 0; m < weights.Length; m++)
            {
                scores[i] += weights[m] * _ratios[m][i];
            }
        }
    }

    /// <summary>What one thread works in; cards in the order of the own weights.</summary>
    private sealed class Room
    {
        public Room(int cards)
        {
            (Scores, Sort, Inversions) = (new double[cards], new PlaceSort(cards), new InversionCount(cards));
            (Best, Worst) = (new int[cards], new int[cards]);
            Array.Fill(Best, int.MaxValue);
        }

        public double[] Scores { get; }

        public PlaceSort Sort { get; }

        public InversionCount Inversions { get; }

        public int[] Best { get; }

        public int[] Worst { get; }
    }
}
