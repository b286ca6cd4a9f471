namespace Cardassay.Plans;

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
