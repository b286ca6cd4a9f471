using System.Collections.Concurrent;
using MathNet.Numerics;
using MathNet.Numerics.Distributions;
using MathNet.Numerics.Interpolation;

namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>
/// Quantile of the studentized range of K means over sqrt 2 (Tukey, 1953; Kramer, Biometrics 1956): two of K cards differ when their difference
/// exceeds this many of its standard errors. By numerical integration: the range of K normal values, then its scale.
/// </summary>
public sealed class StudentizedRange
{
    private const int Strips = 400;
    private const double Widest = 16; // beyond, the range of any number of cards that will ever be tested holds for certain

    private static readonly ConcurrentDictionary<(int Cards, double Level), StudentizedRange> Known = new();

    // 1/df at which the quantile is computed: it is convex in 1/df, so a straight line between them lies above it, never below.
    private static readonly double[] Inverses =
    [
        0, 1e-3, 2e-3, 5e-3, 0.01, 0.015, 0.02, 0.03, 0.04, 0.05, 0.0625, 0.075, 0.09, 0.1, 0.125, 0.15, 0.175, 0.2, 0.225, 0.25, 0.3, 0.35, 0.4, 0.45, 0.5, 0.6, 0.7, 0.8, 0.9, 1,
    ];

    private readonly IInterpolation _range;
    private readonly double _level;
    private readonly Lazy<double>[] _quantiles;

    private StudentizedRange(int cards, double level)
    {
        _level = level;
        _range = RangeOf(cards);
        _quantiles = [.. Inverses.Select(i => new Lazy<double>(() => Exact(i == 0 ? double.PositiveInfinity : 1 / i)))];
    }

    /// <summary>The quantiles for a number of cards, computed once.</summary>
    /// <param name="cards">K, at least 2.</param>
    /// <param name="level">Joint level, 0.95 for all rankings.</param>
    public static StudentizedRange For(int cards, double level = 0.95) => Known.GetOrAdd((Math.Max(2, cards), level), key => new StudentizedRange(key.Cards, key.Level));

    /// <summary>The quantile over sqrt 2, at most 0.2 % too large; infinite below one degree of freedom.</summary>
    public double At(double df)
    {
        double inverse = 1 / df;
        if (!(inverse <= 1))
        {
            return double.PositiveInfinity;
        }

        int above = Array.BinarySearch(Inverses, inverse);
        if (above >= 0)
        {
            return _quantiles[above].Value;
        }

        above = ~above;
        double share = (inverse - Inverses[above - 1]) / (Inverses[above] - Inverses[above - 1]);
        return _quantiles[above - 1].Value + share * (_quantiles[above].Value - _quantiles[above - 1].Value);
    }

    /// <summary>The quantile over sqrt 2 without interpolation.</summary>
    public double Exact(double df)
    {
        (double[] scales, double[] weights) = Scales(df);
        double high = 4;
        while (Probability(high) < _level)
        {
            high *= 2;
        }

        return FallingRoot.Find(q => _level - Probability(q), high == 4 ? 0 : high / 2, high) / Constants.Sqrt2;

        double Probability(double q)
        {
            double sum = 0;
            for (int i = 0; i < scales.Length; i++)
            {
                double width = q * scales[i];
                sum += weights[i] * (width >= Widest ? 1 : _range.Interpolate(width));
            }

            return sum;
        }
    }

    /// <summary>Points and weights of the scale s = chi / sqrt(df), by Simpson's rule on its logarithm.</summary>
    private static (double[] Scales, double[] Weights) Scales(double df)
    {
        if (double.IsInfinity(df))
        {
            return ([1], [1]);
        }

        double low = Math.Log(1e-12) / df + 0.5 * Math.Log(2 / df), high = 0.5 * Math.Log(ChiSquared.InvCDF(df, 1 - 1e-13) / df);
        low = Math.Max(low, -30 / df - 3);
        double step = (high - low) / Strips, constant = Constants.Ln2 + df / 2 * Math.Log(df / 2) - SpecialFunctions.GammaLn(df / 2);
        double[] scales = new double[Strips + 1], weights = new double[Strips + 1];
        double all = 0;
        for (int i = 0; i <= Strips; i++)
        {
            double log = low + i * step;
            scales[i] = Math.Exp(log);
            weights[i] = Simpson(i) * step / 3 * Math.Exp(constant + df * log - df / 2 * scales[i] * scales[i]);
            all += weights[i];
        }

        return (scales, Array.ConvertAll(weights, w => w / all));
    }

    /// <summary>P(range of K standard normal values is at most w), as a spline over w.</summary>
    private static CubicSpline RangeOf(int cards)
    {
        const double From = -8, To = 8;
        const double Step = (To - From) / Strips;
        double[] density = new double[Strips + 1], below = new double[Strips + 1];
        for (int i = 0; i <= Strips; i++)
        {
            density[i] = Simpson(i) * Step / 3 * cards * Normal.PDF(0, 1, From + i * Step);
            below[i] = Normal.CDF(0, 1, From + i * Step);
        }

        int points = (int)(Widest / Step);
        double[] widths = [.. Enumerable.Range(0, points + 1).Select(j => j * Step)];
        double[] shares = new double[points + 1];
        for (int j = 0; j <= points; j++)
        {
            for (int i = 0; i <= Strips; i++)
            {
                // A width is a whole number of steps, so the lower end is a point of the grid, too.
                shares[j] += density[i] * Math.Pow(below[i] - (i >= j ? below[i - j] : 0), cards - 1);
            }
        }

        return CubicSpline.InterpolatePchipSorted(widths, Array.ConvertAll(shares, s => Math.Min(1, s)));
    }

    private static int Simpson(int i) => i is 0 or Strips ? 1 : i % 2 == 1 ? 4 : 2;
}
