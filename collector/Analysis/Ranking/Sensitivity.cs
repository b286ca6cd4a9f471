using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Analysis.Statistics;

namespace Cardassay.Collector.Analysis.Ranking;

/// <summary>How much the order depends on the weights: ranks of the point values under 1,000 draws of the weights.</summary>
internal sealed class Sensitivity
{
    public const int Draws = 1000;

    // A failing card stays below the passing ones whatever the weights; no composite spans this many powers of e.
    private const double FailingBelow = 1000;

    private readonly double[][] _ratios;
    private readonly bool[] _fails;
    private readonly int[] _order;
    private readonly double[] _own;

    private Sensitivity(UseProfile profile, IReadOnlyList<(IReadOnlyList<double> Figures, bool Fails)> cards)
    {
        _ratios = [.. cards.Select(c => c.Figures.Select((f, i) => profile.LogRatio(i, f)).ToArray())];
        _fails = [.. cards.Select(c => c.Fails)];
        _order = [.. Enumerable.Range(0, cards.Count)];
        double[] weights = [.. profile.Metrics.Select(m => m.Weight)];
        _own = [.. _order.Select(i => Score(i, weights))];
        Array.Sort(_own, _order);
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
        for (int i = 0; i < k; i++)
        {
            room.Scores[i] = Score(_order[i], weights);
            room.Items[i] = i;
        }

        Span<double> before = room.Unsorted;
        room.Scores.CopyTo(before);
        long changed = KendallTau.SortCountingInversions(room.Scores, room.Items, room.Spare, room.SpareItems);
        bool tied = false;
        for (int i = k - 1, place = k; i >= 0; i--)
        {
            bool same = i < k - 1 && room.Scores[i] == room.Scores[i + 1];
            tied |= same || (i < k - 1 && _own[i] == _own[i + 1]);
            place = same ? place : k - i;
            ref (int Best, int Worst) range = ref room.Ranges[_order[room.Items[i]]];
            range = (Math.Min(range.Best, place), Math.Max(range.Worst, place));
        }

        return k < 2 ? null : tied ? KendallTau.B(_own, before) : 1 - 4.0 * changed / ((double)k * (k - 1));
    }

    private double Score(int card, double[] weights)
    {
        double sum = _fails[card] ? -FailingBelow : 0;
        double[] ratios = _ratios[card];
        for (int m = 0; m < weights.Length; m++)
        {
            sum += weights[m] * ratios[m];
        }

        return sum;
    }

    private sealed class Room
    {
        public Room(int cards)
        {
            (Scores, Unsorted, Spare) = (new double[cards], new double[cards], new double[cards]);
            (Items, SpareItems) = (new int[cards], new int[cards]);
            Ranges = new (int, int)[cards];
            Array.Fill(Ranges, (int.MaxValue, 0));
        }

        public double[] Scores { get; }

        public double[] Unsorted { get; }

        public double[] Spare { get; }

        public int[] Items { get; }

        public int[] SpareItems { get; }

        public (int Best, int Worst)[] Ranges { get; }
    }
}
