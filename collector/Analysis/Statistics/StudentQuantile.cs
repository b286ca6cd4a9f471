using MathNet.Numerics.Distributions;

namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>Quantiles of Student's t. The library's own search ends at 800, which few degrees of freedom and a small tail go beyond, and throws there.</summary>
public static class StudentQuantile
{
    private const double Normally = 1e6;
    private const double Widest = 1e100;
    private const int Steps = 30;
    private const double Accuracy = 1e-13;
    private const double Least = 0.1;

    /// <summary>What Student's t exceeds with a chance of <paramref name="tail"/>.</summary>
    /// <param name="df">Degrees of freedom above 0; from a million on, and infinite, a normal's.</param>
    /// <param name="tail">Chance, between 0 and 0.5.</param>
    public static double Upper(double df, double tail)
    {
        if (!(df > 0) || !(tail > 0))
        {
            return double.PositiveInfinity;
        }

        if (df >= Normally)
        {
            return -Normal.InvCDF(0, 1, tail);
        }

        if (ByNewton(df, tail) is { } found)
        {
            return found;
        }

        double high = 1;
        while (high < Widest && Beyond(high) > 0)
        {
            high *= 2;
        }

        return FallingRoot.Find(Beyond, high == 1 ? 0 : high / 2, high);

        double Beyond(double t) => StudentT.CDF(0, 1, df, -t) - tail;
    }

    /// <summary>
    /// Newton's steps: above 0 the tail falls and is convex, so that from the second step on they come from below and never pass the root. Null where they are too
    /// many: few degrees of freedom and a small tail.
    /// </summary>
    private static double? ByNewton(double df, double tail)
    {
        double z = -Normal.InvCDF(0, 1, tail), z2 = z * z;
        double t = Math.Max(Least, z * (1 + (z2 + 1) / (4 * df) + ((5 * z2 + 16) * z2 + 3) / (96 * df * df))); // Abramowitz and Stegun 26.7.5
        for (int i = 0; i < Steps; i++)
        {
            double next = t + (StudentT.CDF(0, 1, df, -t) - tail) / StudentT.PDF(0, 1, df, t);
            next = next > 0 ? next : t / 2;
            if (Math.Abs(next - t) <= Accuracy * t)
            {
                return next;
            }

            t = next;
        }

        return null;
    }
}
