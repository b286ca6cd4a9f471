namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>
/// Where a falling function crosses zero, by bisection to the last bit. It needs no accuracy to be asked for and cannot fail to converge, whatever the
/// figures of a laboratory are; the functions here cost little.
/// </summary>
internal static class FallingRoot
{
    // A double has fewer halvings than this between any two values.
    private const int Most = 2200;

    /// <param name="function">Falls from <paramref name="low"/> to <paramref name="high"/>; beyond a bound that does not hold, the bound is the answer.</param>
    /// <param name="low">Lower bound.</param>
    /// <param name="high">Upper bound, finite.</param>
    public static double Find(Func<double, double> function, double low, double high)
    {
        for (int i = 0; i < Most; i++)
        {
            double middle = low + (high - low) / 2;
            if (middle <= low || middle >= high)
            {
                break;
            }

            (low, high) = function(middle) > 0 ? (middle, high) : (low, middle);
        }

        return low + (high - low) / 2;
    }
}
