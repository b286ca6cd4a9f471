namespace Cardassay.Agent.CapacityProof;

/// <summary>What second rounds found out about the true size.</summary>
/// <param name="IsPeriodic">True when addresses are taken modulo <paramref name="TrueBytes"/>, which was confirmed.</param>
/// <param name="TrueBytes">Bytes really kept; null when that cannot be told.</param>
internal sealed record Boundaries(bool IsPeriodic, long? TrueBytes)
{
    public static Boundaries None { get; } = new(false, null);
}
