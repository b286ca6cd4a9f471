namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>The ranks a card can hold, and its group.</summary>
/// <param name="Best">Best possible rank, from 1.</param>
/// <param name="Worst">Worst possible rank, at most the number of cards.</param>
/// <param name="Group">
/// Group of cards, from 1: every card of a group is told apart from every card of the next ones; within a group no order is
/// claimed beyond the rank intervals.
/// </param>
public readonly record struct RankInterval(int Best, int Worst, int Group)
{
    /// <summary>Adds the groups to rank intervals: a group ends where every rank so far is at most the number of cards so far.</summary>
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
}
