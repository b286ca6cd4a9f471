using Cardassay.Identity;

namespace Cardassay.Tests.Identity;

/// <summary>A card with one fault, and its neighbour that is nearly the same and has none.</summary>
/// <param name="Rule">Id of the rule that must find it.</param>
/// <param name="Name">What the fault is.</param>
/// <param name="Severity">How much it must weigh.</param>
/// <param name="Faulty">The card with the fault.</param>
/// <param name="Neighbour">The card the rule must be silent about.</param>
public sealed record PlantedFault(string Rule, string Name, FindingSeverity Severity, CardEvidence Faulty, CardEvidence Neighbour)
{
    /// <inheritdoc/>
    public override string ToString() => $"{Rule}: {Name}";
}
