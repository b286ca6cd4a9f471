using Cardassay.Registers;
using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>A card cannot be made after it was bought.</summary>
internal sealed class ManufacturedAfterPurchaseRule : IFindingRule
{
    public string Id => "manufactured-after-purchase";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        if (evidence.Registers.Manufactured is { IsPossible: true } date
            && evidence.Claim?.Purchased is DateOnly purchased
            && date.CompareTo(ManufactureDate.Of(purchased)) > 0)
        {
            yield return this.Doubt(
                Text($"The card states to be made in {date}, after it was bought."),
                Sources.Cid,
                "Check the day of purchase on the receipt.",
                Value("manufactured", $"{date}"),
                Value("purchased", $"{purchased:yyyy-MM-dd}"));
        }
    }
}
