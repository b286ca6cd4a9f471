using Cardassay.Agent.Commands;
using Cardassay.Agent.Tests.Sysfs;
using Cardassay.Trials;

namespace Cardassay.Agent.Tests.Commands;

public sealed class SlotWatchTests
{
    [Fact]
    public void Look_CardTakenOutAndPutInAgain_IsNoticedEachTime()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-b-6.6-sdxc");
        List<(AgentEvent, string)> told = [];
        var watch = new SlotWatch(fixture.Tree, (what, text) => told.Add((what, text)));
        Assert.True(watch.Look());
        V1.Slot card = Assert.Single(watch.Cards);
        Assert.Equal(("mmcblk1", true, (uint)Attachment.Slot), (card.DiskName, card.IdentityFromRegisters, card.Attachment));
        Assert.True(card.HasDiskSequence);
        Assert.False(watch.Look());

        fixture.Text("sys/block/mmcblk1/diskseq", "99"); // the kernel counts another medium
        Assert.True(watch.Look());
        Assert.Equal(99, Assert.Single(watch.Cards).DiskSequence);

        fixture.Text("sys/block/mmcblk1/size", "0");
        Assert.True(watch.Look());
        Assert.Empty(watch.Cards);
        Assert.Equal((AgentEvent.CardTakenOut, $"mmcblk1: card {card.Identity} was taken out"), told[^1]);
        Assert.Contains((AgentEvent.CardSeen, $"mmcblk1: card {card.Identity}"), told);
    }

    [Fact]
    public void Look_CardInAUsbReader_IsACardOfThisBoardAndAFixedDiskIsNot()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-d-6.1-reader");
        fixture.Text("sys/block/sdz/size", "1000000").Text("sys/block/sdz/removable", "0");
        var watch = new SlotWatch(fixture.Tree, (_, _) => { });
        watch.Look();
        V1.Slot reader = Assert.Single(watch.Cards, c => c.DiskName.StartsWith("sd", StringComparison.Ordinal));
        Assert.Equal(("sda", false, (uint)Attachment.Reader), (reader.DiskName, reader.IdentityFromRegisters, reader.Attachment));
    }

    [Fact]
    public void Look_CardThatCountsItsWear_StaysTheCardItIs()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-c-6.6-emmc");
        var watch = new SlotWatch(fixture.Tree, (_, _) => { });
        watch.Look();
        V1.Slot before = Assert.Single(watch.Cards, c => c.DiskName == "mmcblk2");
        fixture.Text("sys/block/mmcblk2/device/life_time", "0x09 0x09");
        Assert.False(watch.Look());
        Assert.NotEqual(before, Assert.Single(watch.Cards, c => c.DiskName == "mmcblk2")); // it is read all the same
    }

    [Fact]
    public void Look_SolderedCard_ShowsNoHardwarePartition()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-c-6.6-emmc");
        var watch = new SlotWatch(fixture.Tree, (_, _) => { });
        watch.Look();
        Assert.All(watch.Cards, c => Assert.DoesNotContain("boot", c.DiskName, StringComparison.Ordinal));
    }
}
