namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>
/// Ranks with honest ties from simultaneous intervals: rank of k lies in
/// [1 + #{j: L_j &gt; U_k}, K - #{j: U_j &lt; L_k}] jointly for all k with the joint level of the intervals
/// (Klein, Wright, Wieczorek, "A joint confidence region for an overall ranking of populations", 2020).
/// </summary>
public static class RankIntervals
{
    /// <summary>Joint level of the statement about all ranks.</summary>
    public const double JointLevel = 0.95;

    /// <summary>Level of each of <paramref name="cards"/> independent intervals, so that all hold together with <see cref="JointLevel"/>.</summary>
    public static double LevelFor(int cards) => Math.Pow(JointLevel, 1.0 / Math.Max(1, cards));

    /// <summary>Fewest values per card for which an interval of <see cref="LevelFor"/> exists: 8 for 5 cards, 11 for 50. Below it a rank is provisional.</summary>
    public static int LeastRuns(int cards)
    {
        double level = LevelFor(cards);
        int n = 2;
        while (MedianInterval.Coverage(n, 1) < level)
        {
            n++;
        }

        return n;
    }

    /// <summary>
    /// How many cards can enter the joint statement: the largest K such that K cards have at least <see cref="LeastRuns"/>(K)
    /// values. The others are provisional.
    /// </summary>
    /// <param name="counts">Number of values of each card.</param>
    public static int FirmCards(IEnumerable<int> counts)
    {
        int[] sorted = [.. counts.OrderDescending()];
        int firm = 0;
        for (int k = 1; k <= sorted.Length; k++)
        {
            if (sorted[k - 1] >= LeastRuns(k))
            {
                firm = k;
            }
        }

        return firm;
    }

    /// <summary>Rank interval and group of each interval, in the order given. Higher values rank better.</summary>
    public static RankInterval[] Of(IReadOnlyList<(double Low, double High)> intervals)
    {
        double[] lows = [.. intervals.Select(i => i.Low).Order()];
        double[] highs = [.. intervals.Select(i => i.High).Order()];
        var ranks = new (int Best, int Worst)[intervals.Count];
        for (int k = 0; k < ranks.Length; k++)
        {
            int surelyBetter = lows.Length - CountUpTo(lows, intervals[k].High);
            int surelyWorse = CountBelow(highs, intervals[k].Low);
            ranks[k] = (1 + surelyBetter, ranks.Length - surelyWorse);
        }

        return Grouped(ranks);
    }

    /// <summary>Adds the groups to rank intervals made elsewhere: a group ends where every rank so far is at most the number of cards so far.</summary>
    public static RankInterval[] Grouped(IReadOnlyList<(int Best, int Worst)> ranks)
    {
        var result = new RankInterval[ranks.Count];
        int group = 1, seen = 0, reach = 0;
        foreach (int k in Enumerable.Range(0, ranks.Count).OrderBy(k => ranks[k].Best).ThenBy(k => ranks[k].Worst))
        {
            if (seen > 0 && reach <= seen && ranks[k].Best > seen)
            {
                group++;
            }

            result[k] = new RankInterval(ranks[k].Best, ranks[k].Worst, group);
            seen++;
            reach = Math.Max(reach, ranks[k].Worst);
        }

        return result;
    }

    internal static int CountUpTo(double[] sorted, double value)
    {
        int low = 0, high = sorted.Length;
        while (low < high)
        {
            int middle = (low + high) / 2;
            if (sorted[middle] <= value)
            {
                low = middle + 1;
            }
            else
            {
                high = middle;
            }
        }

        return low;
    }

    internal static int CountBelow(double[] sorted, double value)
    {
        int low = 0, high = sorted.Length;
        while (low < high)
        {
            int middle = (low + high) / 2;
            if (sorted[middle] < value)
            {
                low = middle + 1;
            }
            else
            {
                high = middle;
            }
        }

        return low;
    }
}
