namespace Cardassay.Plans;

/// <summary>What an adaptive step does next.</summary>
public enum RepetitionDecision
{
    /// <summary>Measure again.</summary>
    Continue = 0,

    /// <summary>The interval is narrow enough.</summary>
    Settled = 1,

    /// <summary>The most repetitions were made and the interval is still wide.</summary>
    NotSettled = 2,
}

/// <summary>
/// Decides how often a step is repeated (METHOD rule 2): it looks after 7, 9, 12, 17, 23 and 30 repetitions and stops when half the
/// 97.5 % order-statistic interval of the median is at most the asked part of the median. Looking several times and stopping on
/// sight costs coverage, so the interval is wider than the 95 % one. (Kalibera and Jones, ISMM 2013; Maricq et al., OSDI 2018.)
/// </summary>
public static class RepetitionRule
{
    /// <summary>Fewest values that have a 97.5 % interval of the median at all: the widest at 6 covers 96.88 %.</summary>
    public const int LeastForInterval = 7;

    /// <summary>The last look unless the plan says otherwise.</summary>
    public const int LastLook = 30;

    /// <summary>Coverage of the interval, 0 to 1.</summary>
    public const double Coverage = 0.975;

    private static readonly int[] Looks = [7, 9, 12, 17, 23, LastLook];

    /// <summary>Decides after the values measured so far.</summary>
    /// <param name="values">Figures of merit, one per repetition, any order.</param>
    /// <param name="repetitions">What the plan asks for.</param>
    public static RepetitionDecision After(IReadOnlyList<double> values, Repetitions repetitions)
    {
        if (!repetitions.IsAdaptive)
        {
            return values.Count >= repetitions.Least ? RepetitionDecision.Settled : RepetitionDecision.Continue;
        }

        if (values.Count < repetitions.Least)
        {
            return RepetitionDecision.Continue;
        }

        bool isLook = values.Count >= repetitions.Most || values.Count > LastLook || Looks.Contains(values.Count);
        if (isLook && HalfWidthPercent(values) is { } width && width <= repetitions.HalfWidthPercent)
        {
            return RepetitionDecision.Settled;
        }

        return values.Count >= repetitions.Most ? RepetitionDecision.NotSettled : RepetitionDecision.Continue;
    }

    /// <summary>Half the interval's width as percent of the median; null below 7 values or when the median is not positive.</summary>
    public static double? HalfWidthPercent(IReadOnlyList<double> values)
    {
        int rank = LowerRank(values.Count, Coverage);
        if (rank == 0)
        {
            return null;
        }

        double[] sorted = [.. values.Order()];
        double median = (sorted[(sorted.Length - 1) / 2] + sorted[sorted.Length / 2]) / 2;
        return median <= 0 ? null : (sorted[^rank] - sorted[rank - 1]) / 2 / median * 100;
    }

    /// <summary>
    /// The rank k, from 1, for which the k-th smallest and the k-th largest of n values cover the median with at least the given
    /// probability: the largest k with 1 - 2 P(X &lt;= k - 1) >= coverage, X binomial (n, 1/2). 0 when there is none.
    /// </summary>
    public static int LowerRank(int n, double coverage)
    {
        double probability = Math.Pow(0.5, n);
        double below = 0;
        int rank = 0;
        for (int k = 1; k <= n / 2; k++)
        {
            below += probability;
            if (1 - (2 * below) < coverage)
            {
                break;
            }

            rank = k;
            probability = probability * (n - k + 1) / k;
        }

        return rank;
    }
}

/// <summary>How often a step is measured: a fixed number, or until the interval of the median is narrow enough.</summary>
/// <param name="Least">Fewest repetitions, from 1; at least 7 when adaptive (no 97.5 % interval of a median exists below).</param>
/// <param name="Most">Most repetitions; equal to <paramref name="Least"/> when fixed.</param>
/// <param name="HalfWidthPercent">Adaptive only: stop when half the interval's width is at most this part of the median, percent.</param>
public readonly record struct Repetitions(int Least, int Most, double HalfWidthPercent)
{
    /// <summary>The default of <see cref="HalfWidthPercent"/>: METHOD rule 2.</summary>
    public const double DefaultHalfWidthPercent = 5;

    /// <summary>True when the number depends on what was measured.</summary>
    public bool IsAdaptive => Most > Least;

    /// <summary>Exactly <paramref name="count"/> repetitions.</summary>
    public static Repetitions Fixed(int count) => new(count, count, DefaultHalfWidthPercent);
}
