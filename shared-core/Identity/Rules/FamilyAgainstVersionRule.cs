using Cardassay.Registers;
using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>
/// SDHC came with version 2.00 of the standard, SDXC with 3.00, SDUC with 7.00: a card cannot be of a
/// family its version does not know.
/// </summary>
internal sealed class FamilyAgainstVersionRule : IFindingRule
{
    public string Id => "family-against-version";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        if (evidence.Registers is not { Csd.Value: { } csd, Scr.Value: { } scr })
        {
            yield break;
        }

        int least = csd.Family switch { CardFamily.Sdhc => 2, CardFamily.Sdxc => 3, CardFamily.Sduc => 7, _ => 1 };
        if (scr.SpecMajor is null)
        {
            yield return this.Note(
                "The version fields of the SCR give no version of the standard known here.",
                Sources.Scr,
                null,
                Value("SCR", $"{scr.Encode()}"));
        }
        else if (scr.SpecMajor < least)
        {
            yield return this.Doubt(
                Text($"The card states to be {CardFacts.FamilyWord(csd.Family)} and to follow version {scr.SpecVersion} of the standard, ")
                    + "which does not know that family.",
                Sources.Scr + " and 3.3",
                Sources.ReadElsewhere,
                Value("family", $"{CardFacts.FamilyWord(csd.Family)}"),
                Value("version", $"{scr.SpecVersion}"),
                Value("least major version of the family", $"{least}"));
        }
    }
}
