namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>Holm's step-down correction: probability of any false finding at most the level, whatever the dependence (Holm, 1979).</summary>
public static class Holm
{
    /// <summary>Adjusted p of each p, in the order given.</summary>
    public static double[] Adjust(IReadOnlyList<double> p)
    {
        double[] ascending = [.. p], adjusted = new double[p.Count];
        int[] order = [.. Enumerable.Range(0, p.Count)];
        Array.Sort(ascending, order);
        double most = 0;
        for (int rank = 0; rank < order.Length; rank++)
        {
            most = Math.Max(most, Math.Min(1, ascending[rank] * (order.Length - rank)));
            adjusted[order[rank]] = most;
        }

        return adjusted;
    }
}
