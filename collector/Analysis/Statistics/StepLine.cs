namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>Is a series better told as steps or as a straight line? Each parameter is priced alike (Schwarz, Annals of Statistics 6, 1978).</summary>
internal static class StepLine
{
    private const double Least = 1e-12;

    /// <summary>True when levels that begin at the places given leave less than a line over <paramref name="times"/>.</summary>
    public static bool FitsBetter(double[] times, double[] values, IReadOnlyList<int> starts)
    {
        double n = values.Length, mean = values.Average(), middle = times.Average();
        double along = times.Sum(t => (t - middle) * (t - middle)), across = times.Select((t, i) => (t - middle) * (values[i] - mean)).Sum();
        double whole = values.Sum(v => (v - mean) * (v - mean)), line = along == 0 ? whole : whole - across * across / along;
        int[] bounds = [0, .. starts, values.Length];
        double steps = Enumerable.Range(0, bounds.Length - 1).Select(i => values[bounds[i]..bounds[i + 1]]).Sum(part => part.Sum(v => (v - part.Average()) * (v - part.Average())));
        return n * Math.Log(Math.Max(Least, steps)) + 2 * starts.Count * Math.Log(n) < n * Math.Log(Math.Max(Least, line)) + Math.Log(n);
    }

    /// <summary>True when the best single step leaves less than a line.</summary>
    public static bool IsStep(double[] times, double[] values) => values.Length >= ChangeSearch.Least && FitsBetter(times, values, [ChangeSearch.BestSplit(values)]);
}
