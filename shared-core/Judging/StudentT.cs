namespace Cardassay.Judging;

/// <summary>
/// Student's t with whole degrees of freedom, by its finite series (Abramowitz and Stegun, Handbook of Mathematical Functions, 26.7.3 and
/// 26.7.4): the agent judges on the board, too, and bears no library for it.
/// </summary>
public static class StudentT
{
    /// <summary>Probability that |t| stays below a value.</summary>
    /// <param name="t">The value, 0 or more.</param>
    /// <param name="df">Degrees of freedom, 1 or more.</param>
    /// <exception cref="ArgumentOutOfRangeException">Fewer than one degree of freedom.</exception>
    public static double Within(double t, int df)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(df, 1);
        double angle = Math.Atan(t / Math.Sqrt(df));
        double square = Math.Cos(angle) * Math.Cos(angle);
        double sum = 0;
        double term = df % 2 == 0 ? 1 : Math.Cos(angle);
        for (int i = df % 2 == 0 ? 1 : 2; i < df; i += 2)
        {
            sum += term;
            term *= square * i / (i + 1);
        }

        return df % 2 == 0 ? Math.Sin(angle) * sum : 2 / Math.PI * (angle + (Math.Sin(angle) * sum));
    }

    /// <summary>The value below which |t| stays with a probability.</summary>
    /// <param name="within">The probability, 0 to below 1.</param>
    /// <param name="df">Degrees of freedom, 1 or more.</param>
    public static double Bound(double within, int df)
    {
        double low = 0;
        double high = 1;
        while (Within(high, df) < within && high < 1e12)
        {
            high *= 2;
        }

        for (int i = 0; i < 80; i++)
        {
            double middle = (low + high) / 2;
            (low, high) = Within(middle, df) < within ? (middle, high) : (low, middle);
        }

        return high;
    }
}
