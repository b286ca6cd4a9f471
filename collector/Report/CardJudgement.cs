using Cardassay.Collector.Report.Model;
using Cardassay.Identity;

namespace Cardassay.Collector.Report;

/// <summary>What the rules of identity say of one card, as the report needs it.</summary>
public sealed record CardJudgement
{
    /// <summary>The verdict.</summary>
    public required Verdict Verdict { get; init; }

    /// <summary>The verdict as it stood before the nights of the report; null when the card was not known then.</summary>
    public Verdict? Before { get; init; }

    /// <summary>Findings of the rules. Those the analysis already carries are shown once.</summary>
    public IReadOnlyList<Finding> Findings { get; init; } = [];

    /// <summary>What the registers say, as lines of the table identity against claim; empty where they are hidden.</summary>
    public IReadOnlyList<RegisterLine> Registers { get; init; } = [];

    /// <summary>Address space as a proof found it, or null while there is none.</summary>
    public CapacityMap? Capacity { get; init; }
}

/// <summary>One thing the registers say.</summary>
/// <param name="Name">Which line of the table it stands in ("Maker", "Product", "Capacity, GB", "Marks"), or a new one.</param>
/// <param name="Value">As text.</param>
public readonly record struct RegisterLine(string Name, string Value);
