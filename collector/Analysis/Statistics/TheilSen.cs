namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>Theil-Sen slope: the median of the slopes of all pairs (Sen, JASA 1968).</summary>
public static class TheilSen
{
    /// <summary>Slope in units of y per unit of x; null when all x are equal.</summary>
    public static double? Slope(ReadOnlySpan<double> x, ReadOnlySpan<double> y)
    {
        var slopes = new List<double>(x.Length * (x.Length - 1) / 2);
        for (int i = 0; i < x.Length; i++)
        {
            for (int j = i + 1; j < x.Length; j++)
            {
                if (x[i] != x[j])
                {
                    slopes.Add((y[j] - y[i]) / (x[j] - x[i]));
                }
            }
        }

        return slopes.Count == 0 ? null : Summary.MedianOf(slopes);
    }
}
