using Cardassay.Registers;
using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>A card bought as new that was made long before: old stock, or a used card cleaned up.</summary>
internal sealed class OldStockRule : IFindingRule
{
    private const int WorthANoteMonths = 24;
    private const int DoubtfulMonths = 48;

    public string Id => "old-stock";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        if (evidence.Claim is not { Condition: CardCondition.New } claim
            || (claim.Purchased ?? claim.PriceDate) is not DateOnly bought
            || evidence.Registers.Manufactured is not { IsPossible: true } date)
        {
            yield break;
        }

        int months = date.MonthsUntil(ManufactureDate.Of(bought));
        if (months >= WorthANoteMonths)
        {
            yield return this.Finding(
                months >= DoubtfulMonths ? FindingSeverity.Doubt : FindingSeverity.Note,
                Text($"The card was bought as new {months} months after the month of manufacture it states."),
                Sources.Practice,
                "Ask the shop for the age of its stock; look for traces of use.",
                [Value("manufactured", $"{date}"), Value("bought", $"{bought:yyyy-MM-dd}"), Value("age, months", $"{months}")]);
        }
    }
}
