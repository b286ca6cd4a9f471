namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>Holm's step-down correction: probability of any false finding at most the level, whatever the dependence (Holm, 1979).</summary>
public static class Holm
{
    /// <summary>Adjusted p of each p, in the order given.</summary>
    public static double[] Adjust(IReadOnlyList<double> p)
    {
        var adjusted = new double[p.Count];
        double most = 0;
        int rank = 0;
        foreach (int i in Enumerable.Range(0, p.Count).OrderBy(i => p[i]))
        {
            most = Math.Max(most, Math.Min(1, p[i] * (p.Count - rank)));
            adjusted[i] = most;
            rank++;
        }

        return adjusted;
    }
}
