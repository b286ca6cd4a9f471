namespace Cardassay.Trials;

/// <summary>State of a card in one round of equal writing trials.</summary>
public enum RoundState
{
    /// <summary>Fewer rounds than a window: nothing can be said.</summary>
    Unknown = 0,

    /// <summary>Still as fast as in the first round, before a decline that follows.</summary>
    Fresh = 1,

    /// <summary>Neither fresh nor steady.</summary>
    Transition = 2,

    /// <summary>In or after the first window that meets the criterion.</summary>
    Steady = 3,
}

/// <summary>
/// Tells fresh, transition and steady rounds apart. Criterion of the SNIA solid state storage performance test specification (from
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

    /// <summary>The state in each round.</summary>
    /// <param name="figures">Figure of merit of each round in order, all above 0.</param>
    public static IReadOnlyList<RoundState> Of(IReadOnlyList<double> figures)
    {
        var states = new RoundState[figures.Count];
        if (figures.Count < WindowRounds)
        {
            return states;
        }

        int steadyFrom = 0;
        while (steadyFrom + WindowRounds <= figures.Count && !IsSteady(figures, steadyFrom))
        {
            steadyFrom++;
        }

        bool isSteady = steadyFrom + WindowRounds <= figures.Count;
        bool isFresh = true;
        for (int i = 0; i < states.Length; i++)
        {
            isFresh &= figures[i] >= figures[0] * (1 - RangeLimit);
            states[i] = isSteady && i >= steadyFrom ? RoundState.Steady : isFresh ? RoundState.Fresh : RoundState.Transition;
        }

        return states;
    }

    /// <summary>True when the window that begins at <paramref name="start"/> meets the criterion.</summary>
    internal static bool IsSteady(IReadOnlyList<double> figures, int start)
    {
        double[] window = [.. figures.Skip(start).Take(WindowRounds)];
        double mean = window.Average();
        const double MiddleRound = (WindowRounds - 1) / 2.0;
        double slope = window.Select((value, i) => (i - MiddleRound) * (value - mean)).Sum()
            / window.Select((_, i) => (i - MiddleRound) * (i - MiddleRound)).Sum();
        return window.Max() - window.Min() <= RangeLimit * mean && Math.Abs(slope) * (WindowRounds - 1) <= SlopeLimit * mean;
    }
}
