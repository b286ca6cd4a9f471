namespace Cardassay.Simulation.Tests.Analysis;

/// <summary>Sizes of the simulations: small ones by default, those the tables are published with when CARDASSAY_FULL=1.</summary>
internal static class Scale
{
    public static bool IsFull { get; } = Environment.GetEnvironmentVariable("CARDASSAY_FULL") == "1";

    public static int Of(int usual, int full) => IsFull ? full : usual;

    /// <summary>Most successes one expects of a rate over so many trials: exceeded once in 10,000 when the rate holds.</summary>
    public static int Most(int trials, double rate)
    {
        int most = 0;
        while (1 - MathNet.Numerics.Distributions.Binomial.CDF(rate, trials, most) > 1e-4)
        {
            most++;
        }

        return most;
    }
}
