namespace Cardassay.Identity;

/// <summary>
/// One-sided bound of a part by what was found among random samples of it (Clopper and Pearson, Biometrika 1934). Samples stratified over
/// the range vary less than independent ones, so the bound holds for them too (Hoeffding, Annals of Mathematical Statistics 1956).
/// </summary>
public static class BinomialBound
{
    private const double Risk = 0.05;

    /// <summary>
    /// Lower bound at 95 % of the part from which <paramref name="found"/> of <paramref name="samples"/> came; 0 when none did.
    /// </summary>
    public static double Lower(long found, long samples)
    {
        if (found <= 0 || samples <= 0)
        {
            return 0;
        }

        // The greatest part with which that many or more would be found with 5 % at the most.
        double low = 0;
        double high = (double)Math.Min(found, samples) / samples;
        for (int i = 0; i < 60; i++)
        {
            double middle = (low + high) / 2;
            (low, high) = AtLeast(found, samples, middle) <= Risk ? (middle, high) : (low, middle);
        }

        return low;
    }

    /// <summary>Upper bound at 95 % of the same: what was not found is bounded from below. 1 without samples.</summary>
    public static double Upper(long found, long samples) => 1 - Lower(samples - found, samples);

    /// <summary>Probability of <paramref name="found"/> or more, by the terms below it from the first on.</summary>
    internal static double AtLeast(long found, long samples, double part)
    {
        if (part >= 1)
        {
            return 1;
        }

        double below = 0;
        double logTerm = samples * Math.Log(1 - part);
        double logOdds = Math.Log(part) - Math.Log(1 - part);
        for (long i = 0; i < found; i++)
        {
            below += Math.Exp(logTerm);
            logTerm += Math.Log((double)(samples - i) / (i + 1)) + logOdds;
        }

        return Math.Max(0, 1 - below);
    }
}
