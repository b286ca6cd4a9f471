using Cardassay.Collector.Report.First;
using Cardassay.Collector.Report.Model;
using Cardassay.Identity;

namespace Cardassay.Collector.Tests.Report.First;

public class AvoidPartTests
{
    private static readonly ReportFinding Stall = new("long-stall", "note", "One operation took 791 ms.", [], "standard", "");

    [Fact]
    public void TooSlow_MissedFloorsAndStalls_NameProductsWithTheReason() => Assert.Equal(
        ["Below the floors of system-disk: Quillon Tern 16 GB (T-1, T-2), floor random write 100 IOPS.", "Long stalls: Ostervane Slate 32 GB (T-4)."],
        AvoidPart.TooSlow(
            [
                Card("T-1", "Quillon Tern 16 GB") with { Floors = "floors missed: random write 100 IOPS" }, Card("T-2", "Quillon Tern 16 GB") with { Floors = "floors missed: random write 100 IOPS" },
                Card("T-3", "Quillon Tern 64 GB") with { Floors = "floors undecided: random write 100 IOPS" }, Card("T-4", "Ostervane Slate 32 GB") with { Findings = [Stall] },
            ],
            "system-disk"));

    [Fact]
    public void TooSlow_AUsedCardOrOneThatIsNotAsClaimed_SaysNothingOfTheProduct() => Assert.Empty(AvoidPart.TooSlow(
        [Card("T-1", "Quillon Tern 16 GB") with { Condition = "used", Findings = [Stall] }, Card("T-2", "Quillon Tern 16 GB") with { VerdictKind = VerdictKind.NotAsClaimed, Findings = [Stall] }], "system-disk"));

    private static ReportCard Card(string tag, string product) => new() { Tag = tag, Title = tag, Product = product, Condition = "new", VerdictKind = VerdictKind.AsClaimed, Verdict = "as claimed" };
}
