using Cardassay.Collector.Analysis.Statistics;
using MathNet.Numerics.Distributions;

namespace Cardassay.Collector.Analysis.Ranking;

/// <summary>
/// What it would take to tell two cards apart. The bounds of a median interval at n repetitions lie about where Blom's scores put
/// their order statistics (Blom, 1958): median x exp(+-sigma Phi^-1((r - 3/8) / (n + 1/4))) on the logarithms, sigma being the card's own spread.
/// Repetitions are added where the interval is wider until the two no longer overlap.
/// </summary>
public static class PairSeparations
{
    /// <summary>Most further repetitions of one card that are proposed.</summary>
    public const int Most = 200;

    /// <summary>Pairs not told apart; see <see cref="RankingTable.Separations"/> for which.</summary>
    internal static IReadOnlyList<PairSeparation> Of(IReadOnlyList<RankedCard> firm, double level)
    {
        const int AllUpTo = 40, Neighbours = 3;
        RankedCard[] byComposite = [.. firm.OrderByDescending(c => c.Composite).ThenBy(c => c.Name, StringComparer.Ordinal)];
        double[] spreads = [.. byComposite.Select(Spread)];
        var scores = new BoundScores(level);
        var result = new List<PairSeparation>();
        for (int i = 0; i < byComposite.Length; i++)
        {
            int last = byComposite.Length <= AllUpTo ? byComposite.Length - 1 : Math.Min(byComposite.Length - 1, i + Neighbours);
            for (int j = i + 1; j <= last; j++)
            {
                if (byComposite[i].Low <= byComposite[j].High)
                {
                    result.Add(For(byComposite[i], spreads[i], byComposite[j], spreads[j], scores));
                }
            }
        }

        return result;
    }

    /// <summary>Separation of any two firm cards of a table.</summary>
    /// <param name="one">A card.</param>
    /// <param name="other">Another card of the same table.</param>
    /// <param name="level"><see cref="RankingTable.LevelEach"/>.</param>
    public static PairSeparation For(RankedCard one, RankedCard other, double level)
    {
        (RankedCard better, RankedCard worse) = one.Composite >= other.Composite ? (one, other) : (other, one);
        return For(better, Spread(better), worse, Spread(worse), new BoundScores(level));
    }

    private static PairSeparation For(RankedCard better, double spreadBetter, RankedCard worse, double spreadWorse, BoundScores scores)
    {
        double gap = Math.Log(better.Composite / worse.Composite);
        int more = 0, moreWorse = 0;
        bool apart = better.Low > worse.High;
        while (!apart && more < Most && moreWorse < Most)
        {
            double wide = spreadBetter * scores.Of(better.N + more), wideWorse = spreadWorse * scores.Of(worse.N + moreWorse);
            apart = more + moreWorse > 0 && wide + wideWorse < gap;
            if (!apart)
            {
                (more, moreWorse) = wide >= wideWorse ? (more + 1, moreWorse) : (more, moreWorse + 1);
            }
        }

        return new PairSeparation(better.Name, worse.Name, better.Composite / worse.Composite, more, moreWorse, apart);
    }

    private static double Spread(RankedCard card)
    {
        double[] logs = [.. card.Repetitions.Where(v => v > 0).Select(v => Math.Log(v))];
        return logs.Length < 2 ? 0 : Math.Max(Summary.StandardDeviation(logs), 1.4826 * Summary.Of(logs).Mad);
    }

    /// <summary>Blom's score of the upper bound of an interval of n values, remembered by n.</summary>
    private sealed class BoundScores(double level)
    {
        private readonly List<double> _byN = [];

        public double Of(int n)
        {
            while (_byN.Count <= n)
            {
                int rank = MedianInterval.LowerRank(_byN.Count, level);
                _byN.Add(rank == 0 ? double.PositiveInfinity : -Normal.InvCDF(0, 1, (rank - 0.375) / (_byN.Count + 0.25)));
            }

            return _byN[n];
        }
    }
}
