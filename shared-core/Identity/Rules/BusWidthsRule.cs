using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>Every SD card works on one and on four lines (SD_BUS_WIDTHS bits 0 and 2); bits 1 and 3 are reserved.</summary>
internal sealed class BusWidthsRule : IFindingRule
{
    public string Id => "bus-widths";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        if (evidence.Registers.Scr.Value is not { } scr || scr.BusWidths == 5)
        {
            yield break;
        }

        FindingValue value = Value("SD_BUS_WIDTHS", $"0x{scr.BusWidths:x}");
        yield return (scr.BusWidths & 5) != 5
            ? this.Doubt("The SCR lacks a bus width every SD card has.", Sources.Scr, Sources.ReadElsewhere, value)
            : this.Note("The SCR sets reserved bits among the bus widths.", Sources.Scr, null, value);
    }
}
