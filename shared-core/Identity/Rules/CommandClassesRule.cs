using Cardassay.Registers;
using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>
/// Command classes every card has. Structure versions 2 and 3: 0, 2, 4, 5, 7, 8, 10 set, 3 and 6 clear. Version 1: 0, 2, 4, 5, 8 (from
/// memory, unverified). More classes than that are odd at most.
/// </summary>
internal sealed class CommandClassesRule : IFindingRule
{
    private const int MandatoryVersion1 = 0x135;
    private const int MandatoryVersion2 = 0x5B5;
    private const int ForbiddenVersion2 = 0x048;
    private const int UnusedByMemoryCards = 0x202; // class 1 is reserved, class 9 belongs to I/O cards

    public string Id => "command-classes";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        if (evidence.Registers.Csd.Value is not { Version: int version } csd)
        {
            yield break;
        }

        int mandatory = version == 1 ? MandatoryVersion1 : MandatoryVersion2;
        int forbidden = version == 1 ? 0 : ForbiddenVersion2;
        if ((csd.CommandClasses & mandatory) != mandatory || (csd.CommandClasses & forbidden) != 0)
        {
            yield return this.Doubt(
                "The command classes in the CSD are none a card of this structure version may state.",
                version == 1 ? Sources.Memory : Sources.Csd,
                Sources.ReadElsewhere,
                Value("CCC", $"0x{csd.CommandClasses:x3}"),
                Value("must be set", $"0x{mandatory:x3}"),
                Value("must be clear", $"0x{forbidden:x3}"));
        }
        else if ((csd.CommandClasses & UnusedByMemoryCards) != 0)
        {
            yield return this.Note(
                "The CSD states command classes a memory card has no use for; odd, but allowed.",
                Sources.Csd,
                null,
                Value("CCC", $"0x{csd.CommandClasses:x3}"));
        }
    }
}
