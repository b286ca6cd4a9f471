using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>
/// SD_CARD_TYPE is 0 on a card that can be read and written; other values belong to cards that cannot (ROM, written once).
/// </summary>
internal sealed class CardTypeRule : IFindingRule
{
    public string Id => "card-type";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        if (evidence.Registers.Status.Value is { CardType: > 0 } status)
        {
            yield return this.Doubt(
                "The card states a type that is none of a card to be read and written.",
                Sources.Status,
                Sources.ReadElsewhere,
                Value("SD_CARD_TYPE", $"0x{status.CardType:x4}"));
        }
    }
}
