using Cardassay.Agent.BlockIo;
using Cardassay.Agent.Guard;
using Cardassay.Agent.Sysfs;
using Cardassay.Agent.Tests.Sysfs;

namespace Cardassay.Agent.Tests.Guard;

public class OverwriteGuardTests
{
    [Fact]
    public void Check_CardInSlotNobodyUses_IsPermittedWithoutTheFixedDiskFlag()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-b-6.6-sdxc");
        Assert.Equal("0", TextFile.Read(fixture.Tree, "sys/block/mmcblk1/removable").Value);
        Assert.Empty(Check(fixture, "mmcblk1"));
    }

    [Fact]
    public void Check_SystemCard_IsRefusedForEveryReason()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-a-6.1-sdhc");
        IReadOnlyList<Refusal> refusals = Check(fixture, "mmcblk0", ExclusiveState.Busy);
        Assert.Equal(["mounted", "mounted", "system-disk"], refusals.Select(r => r.Id));
        Assert.All(refusals, r => Assert.EndsWith(".", r.Text, StringComparison.Ordinal));
    }

    [Theory]
    [InlineData("proc/self/mountinfo", "27 1 0:30 / / rw - overlay overlay rw,lowerdir=/ro")]
    public void Check_RootHiddenByAnOverlay_IsFoundThroughTheKernelsCommandLine(string file, string text)
    {
        using FixtureTree fixture = FixtureTree.Expand("board-a-6.1-sdhc").Text(file, text);
        Assert.Equal(["system-disk"], Ids(Check(fixture, "mmcblk0")));
        fixture.Text("proc/cmdline", "root=PARTUUID=6c586e13-02 ro");
        Assert.Equal(["system-disk"], Ids(Check(fixture, "mmcblk0")));
        fixture.Text("proc/cmdline", "root=/dev/nfs");
        Assert.Empty(Check(fixture, "mmcblk0"));
    }

    [Fact]
    public void Check_HeldByMapperWithALoopOnTop_NamesBoth()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-a-6.1-mapper");
        IReadOnlyList<Refusal> refusals = Check(fixture, "mmcblk1", ExclusiveState.Busy);
        Assert.Equal(["mounted", "held"], Ids(refusals));
        Assert.Contains("dm-0", refusals[1].Text, StringComparison.Ordinal);
    }

    [Fact]
    public void Check_MountOfAFileSystemWithoutADeviceNumber_IsFoundByItsSource()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-b-6.6-sdxc")
            .Text("proc/self/mountinfo", "27 1 254:0 / / rw - ext4 /dev/vda rw\n30 27 0:44 / /data rw - btrfs /dev/mmcblk1p1 rw");
        Assert.Equal(["mounted"], Ids(Check(fixture, "mmcblk1")));
    }

    [Fact]
    public void Check_SecondDeviceOfAMountedFileSystem_IsFoundInItsDeviceList()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-b-6.6-sdxc")
            .Text("sys/fs/btrfs/4b3a/devices/mmcblk1p1/in_fs_metadata", "1");
        Assert.Equal(["mounted"], Ids(Check(fixture, "mmcblk1")));
    }

    [Theory]
    [InlineData("/dev/mmcblk1p1")]
    [InlineData("/data/swap\\040file")]
    public void Check_Swap_IsFoundAsDeviceAndAsFile(string area)
    {
        using FixtureTree fixture = FixtureTree.Expand("board-b-6.6-sdxc")
            .Text("proc/self/mountinfo", "27 1 254:0 / / rw - ext4 /dev/vda rw\n30 27 179:1 / /data rw - ext4 /dev/mmcblk1p1 rw")
            .Text("proc/swaps", "Filename Type Size Used Priority\n" + area + " \tfile\t100\t0\t-2");
        Assert.Contains("swap", Ids(Check(fixture, "mmcblk1")));
    }

    [Fact]
    public void Check_MountTableUnreadable_IsRefused()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-b-6.6-sdxc").Remove("proc/self/mountinfo");
        Assert.Equal(["mounts-unknown"], Ids(Check(fixture, "mmcblk1")));
    }

    [Theory]
    [InlineData("board-c-6.6-emmc", "mmcblk2", true)]
    [InlineData("board-c-6.6-emmc", "vda", true)]
    [InlineData("board-d-6.1-reader", "sda", false)]
    public void Check_FixedDisk_NeedsItsFlag(string fixtureName, string name, bool needsFlag)
    {
        using FixtureTree fixture = FixtureTree.Expand(fixtureName);
        Assert.Equal(needsFlag, Ids(Check(fixture, name)).Contains("fixed-disk"));
    }

    [Theory]
    [InlineData(ExclusiveState.Busy, "in-use")]
    [InlineData(ExclusiveState.NoPermission, "no-permission")]
    [InlineData(ExclusiveState.NotTheDevice, "not-the-device")]
    [InlineData(ExclusiveState.Failed, "cannot-open")]
    public void Check_DeviceCannotBeHad_IsRefused(ExclusiveState state, string id)
    {
        using FixtureTree fixture = FixtureTree.Expand("board-b-6.6-sdxc");
        Assert.Equal([id], Ids(Check(fixture, "mmcblk1", state)));
    }

    [Fact]
    public void Check_WithoutAProbe_RefusesAPlainFileInPlaceOfTheNode()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-b-6.6-sdxc");
        Assert.Equal(["not-the-device"], Ids(new OverwriteGuard(fixture.Tree).Check(Request(fixture, "mmcblk1"))));
    }

    [Fact]
    public void Check_CardSwappedSinceSeen_IsRefusedEvenWithTheNewIdentity()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-b-6.6-sdxc");
        CardSighting seen = CardSighting.Take(fixture.Tree, "mmcblk1")!;
        fixture.Text("sys/block/mmcblk1/device/cid", "9f544953443634476136980066013b7e");
        Assert.Equal(["changed"], Ids(Check(fixture, "mmcblk1", change: r => r with { Seen = seen })));
    }

    [Fact]
    public void Check_HardwarePartition_IsRefusedAlthoughItLooksLikeADisk()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-c-6.6-emmc");
        IReadOnlyList<Refusal> refusals = Check(fixture, "mmcblk2boot0", change: r => r with { AllowFixedDisk = true });
        Assert.Equal(["partition"], Ids(refusals));
        Assert.Contains("of mmcblk2 ", refusals[0].Text, StringComparison.Ordinal);
        Assert.Empty(Check(fixture, "mmcblk2", change: r => r with { AllowFixedDisk = true }));
    }

    [Fact]
    public void Check_FolderTarget_Throws()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-a-6.1-sdhc");
        ResolvedTarget folder = new TargetResolver(fixture.Tree).Resolve("/boot").Target!;
        Assert.Throws<ArgumentException>(() => new OverwriteGuard(fixture.Tree).Check(new OverwriteRequest { Target = folder }));
    }

    [Fact]
    public void Summary_Card_NamesPartitionsFileSystemsAndLabels()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-a-6.1-sdhc");
        ResolvedTarget target = new TargetResolver(fixture.Tree).Resolve("mmcblk0").Target!;
        Assert.Equal(
        [
            "Everything on mmcblk0 will be destroyed: 15.9 GB, card in the slot.",
            "  mmcblk0p1: 268.4 MB, vfat, labelled \"bootfs\", mounted at /boot",
            "  mmcblk0p2: 15.7 GB, ext4, labelled \"rootfs\", partition name \"system\", mounted at /",
        ], DestructionSummary.Read(fixture.Tree, target, null));
    }

    private static OverwriteRequest Request(FixtureTree fixture, string name)
    {
        ResolvedTarget target = new TargetResolver(fixture.Tree).Resolve(name).Target!;
        return new OverwriteRequest
        {
            Target = target,
            EraseIdentity = CardSighting.Take(fixture.Tree, target.DiskName!)!.Identity.Text,
            NeededBytes = 1 << 20,
        };
    }

    private static IReadOnlyList<Refusal> Check(
        FixtureTree fixture, string name, ExclusiveState state = ExclusiveState.Free, Func<OverwriteRequest, OverwriteRequest>? change = null)
    {
        OverwriteRequest request = Request(fixture, name);
        return new OverwriteGuard(fixture.Tree, (_, _) => new ExclusiveOutcome(state, "")).Check(change?.Invoke(request) ?? request);
    }

    private static string[] Ids(IEnumerable<Refusal> refusals) => [.. refusals.Select(r => r.Id)];
}
