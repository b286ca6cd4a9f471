namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>The second derivative of the logarithm of the gamma function, and its inverse.</summary>
public static class Trigamma
{
    private const double Asymptotic = 15;

    /// <summary>Trigamma of x above 0: recurrence up to 15, then the asymptotic series (Abramowitz and Stegun 6.4.6 and 6.4.12).</summary>
    public static double Of(double x)
    {
        double sum = 0;
        while (x < Asymptotic)
        {
            sum += 1 / (x * x);
            x++;
        }

        double r = 1 / x, r2 = r * r;
        return sum + r + r2 / 2 + r * r2 * (1.0 / 6 - r2 * (1.0 / 30 - r2 * (1.0 / 42 - r2 / 30)));
    }

    /// <summary>The x whose trigamma is <paramref name="y"/>; infinite for y of 0 or below. Trigamma falls, so there is one.</summary>
    public static double Inverse(double y)
    {
        if (!(y > 0))
        {
            return double.PositiveInfinity;
        }

        // 1/x + 1/(2 x^2) < trigamma(x) < 1/x + 1/x^2 brackets the root.
        double low = (1 + Math.Sqrt(1 + 2 * y)) / (2 * y) * 0.99, high = (1 + Math.Sqrt(1 + 4 * y)) / (2 * y) * 1.01;
        return double.IsFinite(high) ? FallingRoot.Find(x => Of(x) - y, low, high) : double.IsInfinity(y) ? 0 : double.PositiveInfinity;
    }
}
