using Cardassay.Collector.Report.Model;
using Cardassay.Identity;

namespace Cardassay.Collector.Report;

/// <summary>Where one card stands: verdict, evidence and what the registers say.</summary>
public sealed record CardStanding
{
    /// <summary>The verdict.</summary>
    public required Verdict Verdict { get; init; }

    /// <summary>The verdict as it stood before the nights of the report; null when the card was not known then.</summary>
    public Verdict? Before { get; init; }

    /// <summary>Findings of the rules. Those the analysis already carries are shown once.</summary>
    public IReadOnlyList<Finding> Findings { get; init; } = [];

    /// <summary>What the registers say; null where they are hidden or were never reported.</summary>
    public CardFacts? Facts { get; init; }

    /// <summary>Address space as a proof found it, or null while there is none.</summary>
    public CapacityMap? Capacity { get; init; }
}
