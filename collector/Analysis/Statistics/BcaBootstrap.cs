using MathNet.Numerics.Distributions;
using MathNet.Numerics.Random;

namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>
/// Bias-corrected and accelerated bootstrap interval (Efron, JASA 1987) of a smooth statistic. Never for a median: its bootstrap
/// distribution has only n values.
/// </summary>
/// <param name="Estimate">Statistic of the sample.</param>
/// <param name="Low">Lower bound.</param>
/// <param name="High">Upper bound.</param>
/// <param name="Seed">Seed of the resampling.</param>
/// <param name="Resamples">Number of resamples.</param>
public readonly record struct BcaBootstrap(double Estimate, double Low, double High, int Seed, int Resamples)
{
    /// <summary>Fewest values for which the interval is given.</summary>
    public const int Least = 10;

    /// <summary>Interval of a statistic; null below 10 values or when they are all equal.</summary>
    public static BcaBootstrap? Of(
        IReadOnlyList<double> values, Func<double[], double> statistic, double level = 0.95, int resamples = 1999, int seed = 1)
    {
        int n = values.Count;
        if (n < Least || values.Distinct().Count() < 2)
        {
            return null;
        }

        double[] sample = [.. values];
        double estimate = statistic(sample);
        double[] drawn = Resample(sample, statistic, resamples, seed);
        Array.Sort(drawn);
        double below = (drawn.Count(d => d < estimate) + drawn.Count(d => d == estimate) / 2.0) / resamples;
        double bias = Normal.InvCDF(0, 1, Math.Clamp(below, 1.0 / resamples, 1 - 1.0 / resamples));
        double acceleration = Acceleration(sample, statistic);
        return new BcaBootstrap(estimate, Bound((1 - level) / 2), Bound((1 + level) / 2), seed, resamples);

        double Bound(double tail)
        {
            double z = bias + Normal.InvCDF(0, 1, tail);
            double adjusted = Normal.CDF(0, 1, bias + z / (1 - acceleration * z));
            return drawn[Math.Clamp((int)Math.Floor(adjusted * (resamples + 1)) - 1, 0, resamples - 1)];
        }
    }

    /// <summary>Statistic of each resample, in the order drawn.</summary>
    public static double[] Resample(IReadOnlyList<double> values, Func<double[], double> statistic, int resamples, int seed)
    {
        var random = new MersenneTwister(seed, threadSafe: false);
        var drawn = new double[resamples];
        var resample = new double[values.Count];
        for (int i = 0; i < resamples; i++)
        {
            for (int j = 0; j < resample.Length; j++)
            {
                resample[j] = values[random.Next(values.Count)];
            }

            drawn[i] = statistic(resample);
        }

        return drawn;
    }

    private static double Acceleration(double[] sample, Func<double[], double> statistic)
    {
        double[] without = [.. Enumerable.Range(0, sample.Length).Select(i => statistic([.. sample.Where((_, j) => j != i)]))];
        double mean = without.Average();
        double squares = without.Sum(v => (mean - v) * (mean - v)), cubes = without.Sum(v => Math.Pow(mean - v, 3));
        return squares == 0 ? 0 : cubes / (6 * Math.Pow(squares, 1.5));
    }
}
