using Cardassay.Registers;
using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>What the standard asks of every SDXC card: the speed class command, and 0 as performance of a move.</summary>
internal sealed class ExtendedCapacityDutiesRule : IFindingRule
{
    public string Id => "extended-capacity-duties";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        if (evidence.Registers.Csd.Value is not { Family: CardFamily.Sdxc })
        {
            yield break;
        }

        if (evidence.Registers.Scr.Value is { SupportsSpeedClassCommand: false } scr)
        {
            yield return this.Doubt(
                "The card states to be SDXC and does not support the speed class command (CMD20), which every SDXC card must.",
                Sources.Standard + ", 4.13.2.8",
                Sources.ReadElsewhere,
                Value("SCR", $"{scr.Encode()}"));
        }

        if (evidence.Registers.Status.Value is { MovePerformance: > 0 } status)
        {
            yield return this.Doubt(
                "The card states to be SDXC and a performance of moves (PERFORMANCE_MOVE), which is 0 on every SDXC card.",
                Sources.Standard + ", 4.13.2.2.2",
                Sources.ReadElsewhere,
                Value("PERFORMANCE_MOVE, MB/s", $"{status.MovePerformance}"));
        }
    }
}
