using Cardassay.Registers;
using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>
/// Commands the SCR declares against the version it declares: CMD20 and CMD23 came with 3.00, CMD48/49 and CMD58/59 with 4.00. A note only:
/// embedded cards are known to declare version 2.00 with later commands.
/// </summary>
internal sealed class CommandsAgainstVersionRule : IFindingRule
{
    public string Id => "commands-against-version";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        if (evidence.Registers.Scr.Value is not { SpecMajor: int major } scr)
        {
            yield break;
        }

        int known = major >= 4 ? 0b1111 : major == 3 ? 0b0011 : 0;
        if ((scr.CommandSupport & ~known) != 0)
        {
            yield return this.Note(
                Text($"The card declares commands that version {scr.SpecVersion} of the standard, which it states, does not have."),
                Sources.Scr,
                Sources.ReadElsewhere,
                Value("CMD_SUPPORT", $"{scr.CommandSupport:b4}"),
                Value("version", $"{scr.SpecVersion}"));
        }
    }
}
