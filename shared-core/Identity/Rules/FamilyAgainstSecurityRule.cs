using Cardassay.Registers;
using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>CSD family against SD_SECURITY. Weak: public registers of cards sold as what they are show 0 on SDXC.</summary>
internal sealed class FamilyAgainstSecurityRule : IFindingRule
{
    public string Id => "family-against-security";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        if (evidence.Registers is not { Csd.Value: { } csd, Scr.Value: { } scr })
        {
            yield break;
        }

        int? expected = csd.Family switch { CardFamily.Sdsc => 2, CardFamily.Sdhc => 3, CardFamily.Sdxc => 4, _ => null };
        if (expected is not null && scr.Security != expected)
        {
            yield return this.Note(
                "The security version in the SCR is not that of the card's family; cards sold as what they are show this too.",
                Sources.Scr,
                null,
                Value("family", $"{CardFacts.FamilyWord(csd.Family)}"),
                Value("SD_SECURITY", $"{scr.Security}"),
                Value("SD_SECURITY of the family", $"{expected}"));
        }
    }
}
