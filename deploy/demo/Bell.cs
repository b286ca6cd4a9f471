namespace Cardassay.Demo;

/// <summary>A bell curve good enough for invented noise.</summary>
internal static class Bell
{
    /// <summary>Value below which the share <paramref name="probability"/> (0 to 1, both excluded) lies; logistic approximation of the normal quantile.</summary>
    /// <remarks>Rounded, because the last bit of a logarithm differs between processors and the data must not.</remarks>
    public static double At(double probability) =>
        Math.Round(Math.Log(probability / (1 - probability)) / 1.702, 6);
}
