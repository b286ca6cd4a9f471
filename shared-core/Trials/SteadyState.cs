namespace Cardassay.Trials;

/// <summary>
/// Tells when equal rounds of writing have become steady. Criterion of the SNIA solid state storage performance test specification (from
/// memory): over a window of 5 rounds the largest less the smallest value is at most 20 % of their mean, and the line fitted by
/// least squares rises or falls by at most 10 % of the mean over the window.
/// </summary>
public static class SteadyState
{
    /// <summary>Rounds of a window.</summary>
    public const int WindowRounds = 5;

    /// <summary>Largest range within a window, as a part of the mean.</summary>
    public const double RangeLimit = 0.20;

    /// <summary>Largest excursion of the fitted line within a window, as a part of the mean.</summary>
    public const double SlopeLimit = 0.10;

    /// <summary>True when the last rounds meet the criterion; false where there are fewer than a window.</summary>
    /// <param name="figures">Figure of merit of each round in order, all above 0.</param>
    public static bool IsReached(IReadOnlyList<double> figures)
    {
        if (figures.Count < WindowRounds)
        {
            return false;
        }

        double[] window = [.. figures.TakeLast(WindowRounds)];
        double mean = window.Average();
        const double MiddleRound = (WindowRounds - 1) / 2.0;
        double slope = window.Select((value, i) => (i - MiddleRound) * (value - mean)).Sum()
            / window.Select((_, i) => (i - MiddleRound) * (i - MiddleRound)).Sum();
        return window.Max() - window.Min() <= RangeLimit * mean && Math.Abs(slope) * (WindowRounds - 1) <= SlopeLimit * mean;
    }
}
