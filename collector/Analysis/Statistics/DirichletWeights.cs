using MathNet.Numerics.Distributions;
using MathNet.Numerics.Random;

namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>Weights drawn around those of a profile, to see how much a ranking depends on them.</summary>
public static class DirichletWeights
{
    /// <summary>
    /// Sum of the parameters of the distribution: 20 gives a weight of 0.5 a standard deviation of 0.11 and one of 0.1 of 0.065
    /// (common practice, no source).
    /// </summary>
    public const double Concentration = 20;

    /// <summary>Draws of weights that add up to 1, each expected to equal the weight given.</summary>
    public static double[][] Draw(IReadOnlyList<double> weights, int draws, int seed)
    {
        var random = new MersenneTwister(seed, threadSafe: false);
        var distribution = new Dirichlet([.. weights.Select(w => w * Concentration)], random);
        var result = new double[draws][];
        for (int i = 0; i < draws; i++)
        {
            result[i] = distribution.Sample();
        }

        return result;
    }
}
