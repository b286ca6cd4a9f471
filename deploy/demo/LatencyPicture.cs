using Cardassay.Trials;

namespace Cardassay.Demo;

/// <summary>Latencies of one trial that add up to the time it took: a bell in the middle, a thin tail, and the stalls planted.</summary>
internal sealed class LatencyPicture
{
    private const int MiddleBars = 24;

    private LatencyPicture(LatencyHistogram histogram, long usualMaxNs)
    {
        Histogram = histogram;
        UsualMaxNs = usualMaxNs;
    }

    /// <summary>All operations.</summary>
    public LatencyHistogram Histogram { get; }

    /// <summary>The longest operation that is no stall, ns.</summary>
    public long UsualMaxNs { get; }

    /// <summary>Draws one.</summary>
    /// <param name="step">The step it is for.</param>
    /// <param name="operations">Operations, at least 1,000.</param>
    /// <param name="elapsedNs">Time they took together, one after the other, ns.</param>
    /// <param name="stallsNs">Stalls among them, ns each.</param>
    /// <param name="chance">Where the tail's lengths come from.</param>
    public static LatencyPicture Draw(PlanStep step, long operations, long elapsedNs, IReadOnlyList<long> stallsNs, Chance chance)
    {
        double meanNs = (double)elapsedNs / operations;
        // Without planted stalls no operation comes near the limit: a card that keeps to the standard.
        double longest = Math.Min(step.StallLimitNs * 0.6, meanNs * 30) / meanNs;
        var bars = new List<(double Factor, long Count)>();
        long tail = 0;
        foreach ((double share, double reach) in new[] { (0.006, 0.12), (0.0012, 0.35), (0.0003, 0.7) })
        {
            long count = (long)(operations * share);
            if (count > 0)
            {
                bars.Add((1 + ((longest - 1) * reach * chance.Between(0.85, 1.1)), count));
                tail += count;
            }
        }

        long middle = operations - tail - stallsNs.Count - 1;
        bars.Add((1 + ((longest - 1) * chance.Between(0.82, 0.98)), 1));
        for (int i = 0; i < MiddleBars; i++)
        {
            long count = (middle * (i + 1) / MiddleBars) - (middle * i / MiddleBars);
            bars.Add((Math.Round(Math.Exp(step.LatencySpread * Bell.At((i + 0.5) / MiddleBars)), 6), count));
        }

        double barsNs = bars.Sum(b => b.Factor * b.Count);
        double unitNs = (elapsedNs - stallsNs.Sum()) / barsNs;
        var histogram = new LatencyHistogram();
        foreach ((double factor, long count) in bars)
        {
            histogram.AddBucket((long)(factor * unitNs), count);
        }

        foreach (long stallNs in stallsNs)
        {
            histogram.AddBucket(stallNs, 1);
        }

        return new LatencyPicture(histogram, (long)(bars.Max(b => b.Factor) * unitNs));
    }
}
