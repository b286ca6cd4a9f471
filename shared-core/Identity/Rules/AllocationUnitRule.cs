using Cardassay.Registers;
using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>
/// The allocation unit may not exceed the limit for the card's capacity (user and protected area together): a small card made to look
/// large keeps its small unit, a large one made to look small keeps its large unit.
/// </summary>
internal sealed class AllocationUnitRule : IFindingRule
{
    public string Id => "allocation-unit";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        CardRegisters r = evidence.Registers;
        if (r.Status.Value?.AllocationUnitBytes is long unit
            && r.Csd.Value?.CapacityBytes is long user
            && AllocationUnit.MaximumFor(user + (r.ProtectedAreaBytes ?? 0)) is long limit
            && unit > limit)
        {
            yield return this.Doubt(
                "The allocation unit is larger than the standard allows for a card of this capacity.",
                Sources.Status,
                Sources.ReadElsewhere,
                Value("allocation unit, bytes", $"{unit}"),
                Value("limit, bytes", $"{limit}"),
                Value("capacity, bytes", $"{user + (r.ProtectedAreaBytes ?? 0)}"));
        }
    }
}
