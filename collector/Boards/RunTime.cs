namespace Cardassay.Collector.Boards;

/// <summary>How long a run will take.</summary>
/// <param name="Expected">Seconds, as expected.</param>
/// <param name="Bound">Seconds it stays below with 90 % probability; not below <paramref name="Expected"/>.</param>
internal readonly record struct RunTime(double Expected, double Bound)
{
    /// <summary>A run nobody knows anything of (common practice, no source).</summary>
    internal const double UnknownSeconds = 3600;

    private const double Probability = 0.9;

    /// <summary>
    /// From earlier runs of the plan and what the board estimates. The next of n + 1 alike runs is with probability k / (n + 1) not
    /// longer than the k-th shortest of the n before it, so from 9 runs on they give the bound; before, the board's estimate "at the
    /// most" does, and no run is expected to be shorter than the longest one was.
    /// </summary>
    /// <param name="past">Seconds of earlier runs, a capacity proof not counted.</param>
    /// <param name="leastEstimate">The board's estimate, seconds; 0 when there is none.</param>
    /// <param name="mostEstimate">The same at the most.</param>
    /// <param name="proofEstimate">Of that what the capacity proof of this run takes; 0 when it has none.</param>
    internal static RunTime Of(IReadOnlyList<double> past, double leastEstimate, double mostEstimate, double proofEstimate = 0)
    {
        double most = mostEstimate > 0 ? mostEstimate : UnknownSeconds;
        if (past.Count == 0)
        {
            double least = leastEstimate > 0 ? Math.Min(leastEstimate, most) : most;
            return new RunTime((least + most) / 2, most);
        }

        double[] sorted = [.. past.Order()];
        double median = (sorted[(sorted.Length - 1) / 2] + sorted[sorted.Length / 2]) / 2;
        int rank = (int)Math.Ceiling(Probability * (sorted.Length + 1));
        double bound = rank <= sorted.Length ? sorted[rank - 1] : Math.Max(sorted[^1], most - proofEstimate);
        return new RunTime(median + proofEstimate, Math.Max(median, bound) + proofEstimate);
    }
}
