namespace Cardassay.Plans;

/// <summary>The capacity proof a plan begins with.</summary>
public enum PlanProof
{
    /// <summary>None.</summary>
    None = 0,

    /// <summary>Probes: minutes.</summary>
    Sparse = 1,

    /// <summary>Every block: hours.</summary>
    Full = 2,
}
