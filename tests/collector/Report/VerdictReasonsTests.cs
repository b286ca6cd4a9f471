using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Model;
using Cardassay.Identity;

namespace Cardassay.Collector.Tests.Report;

/// <summary>A reason names what it stands on: what a disk's size says is no word of the card's registers.</summary>
public class VerdictReasonsTests
{
    private const string Disk = "The size of the disk is what the label says, as far as anything the system is told can show it.";

    [Fact]
    public void Of_CardInAReader_SaysNothingOfItsRegisters()
    {
        string[] reasons = VerdictReasons.Of(Card(fromRegisters: false, new ClaimLine("Capacity, GB", "64", "63.86 (size of the disk)", "agrees")));
        Assert.Equal(["Its size was never tested.", "Its registers are hidden: nothing it says of itself was read.", Disk], reasons);
    }

    [Fact]
    public void Of_CardInASlot_NamesWhatItsRegistersAgreeIn() =>
        Assert.Contains("Its registers agree with the label in capacity.", VerdictReasons.Of(Card(fromRegisters: true, new ClaimLine("Capacity, GB", "64", "63.86", "agrees"))));

    private static ReportCard Card(bool fromRegisters, ClaimLine line) => new()
    {
        Title = "T-01", VerdictKind = VerdictKind.NotProven, Verdict = "not proven", IdentityFromRegisters = fromRegisters, ClaimLines = [line],
    };
}
