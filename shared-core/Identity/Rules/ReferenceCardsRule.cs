using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>
/// The card against reference cards of the same claim, field by field. More references that agree make a difference weigh more; references
/// that disagree among themselves show that the field varies, and make it weigh less. A card that is a reference itself
/// gets notes only: it teaches. The steps are our choice (common practice, no source).
/// </summary>
internal sealed class ReferenceCardsRule : IFindingRule
{
    private const int ManyReferences = 3;

    public string Id => "reference-cards";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        CardRegisters card = evidence.Registers;
        CardRegisters[] references =
            [.. evidence.References.Where(r => r.Identity is not null && r.Identity != card.Identity && r.Type == card.Type)];
        if (card.Identity is null || references.Length == 0)
        {
            yield break;
        }

        List<(FindingSeverity Severity, FindingValue Value)> differences = [];
        foreach (ReferenceField field in ReferenceField.All)
        {
            string[] known = [.. references.Select(field.Read).OfType<string>()];
            string[] distinct = [.. known.Distinct().Order(StringComparer.Ordinal)];
            if (field.Read(card) is not string own || distinct.Length == 0 || distinct.Contains(own))
            {
                continue;
            }

            FindingSeverity severity = evidence.Claim?.IsReference == true
                ? FindingSeverity.Note
                : Weigh(field.Weight, agreeing: distinct.Length == 1 ? known.Length : 0);
            differences.Add((severity, Value(field.Name, $"{own}; {known.Length} reference(s): {string.Join(", ", distinct)}")));
        }

        foreach (IGrouping<FindingSeverity, FindingValue> group in differences.GroupBy(d => d.Severity, d => d.Value)
            .OrderByDescending(g => g.Key))
        {
            string fields = List([.. group.Select(v => v.Name)]);
            yield return this.Finding(
                group.Key,
                Text($"Unlike {references.Length} reference card(s) of the same claim in: {fields}."),
                Sources.Practice,
                group.Key == FindingSeverity.Note ? null : "Compare with a reference card bought from a trusted shop in the same months.",
                [.. group]);
        }
    }

    /// <param name="weight">How much the field tells.</param>
    /// <param name="agreeing">References with one and the same value; 0 when they differ among themselves.</param>
    private static FindingSeverity Weigh(FieldWeight weight, int agreeing) => (weight, agreeing) switch
    {
        (FieldWeight.Strong, >= ManyReferences) => FindingSeverity.Contradiction,
        (FieldWeight.Strong, _) => FindingSeverity.Doubt,
        (FieldWeight.Medium, >= 2) => FindingSeverity.Doubt,
        _ => FindingSeverity.Note,
    };
}
