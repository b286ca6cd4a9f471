namespace Cardassay.Plans;

/// <summary>How the capacity proof a plan begins with goes about it.</summary>
public enum PlanProofKind
{
    /// <summary>There is none.</summary>
    None = 0,

    /// <summary>Probes: minutes, or as long as it is given.</summary>
    Sparse = 1,

    /// <summary>Every block: hours.</summary>
    Full = 2,
}

/// <summary>The capacity proof a plan begins with.</summary>
/// <param name="Kind">How.</param>
/// <param name="Minutes">Sparse: time to spend on further blocks, <see cref="LeastMinutes"/> to <see cref="MostMinutes"/>; null without.
/// Where that time is enough for the whole card, every block is written and read.</param>
/// <param name="SkipsFolders">True when a folder is measured without a proof; else the plan is refused there.</param>
/// <param name="Once">True when a card this agent has proven so far already, known again by its registers, is measured
/// without another proof.</param>
public sealed record PlanProof(PlanProofKind Kind, double? Minutes = null, bool SkipsFolders = false, bool Once = false)
{
    /// <summary>Least value of <see cref="Minutes"/>.</summary>
    public const double LeastMinutes = 0.1;

    /// <summary>Greatest value of <see cref="Minutes"/>: a week.</summary>
    public const double MostMinutes = 10_080;

    /// <summary>No proof.</summary>
    public static PlanProof None { get; } = new(PlanProofKind.None);

    /// <summary>True unless there is none.</summary>
    public bool IsWanted => Kind != PlanProofKind.None;
}
