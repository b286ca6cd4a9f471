using Cardassay.Agent.Sysfs;
using Cardassay.Trials;

namespace Cardassay.Agent.Tests.Sysfs;

public class TargetResolverTests
{
    [Theory]
    [InlineData("board-a-6.1-sdhc", "mmcblk0", "mmcblk0", false, Attachment.Slot)]
    [InlineData("board-a-6.1-sdhc", "/dev/mmcblk0", "mmcblk0", false, Attachment.Slot)]
    [InlineData("board-a-6.1-sdhc", "mmcblk0p2", "mmcblk0", true, Attachment.Slot)]
    [InlineData("board-a-6.1-sdhc", "/dev/disk/by-label/rootfs", "mmcblk0", true, Attachment.Slot)]
    [InlineData("board-a-6.1-sdhc", "/dev/disk/by-id/mmc-SC16G_0xecf4c851", "mmcblk0", false, Attachment.Slot)]
    [InlineData("board-a-6.1-mapper", "dm-0", "mmcblk1", false, Attachment.Slot)]
    [InlineData("board-a-6.1-mapper", "/dev/mapper/vault", "mmcblk1", false, Attachment.Slot)]
    [InlineData("board-a-6.1-mapper", "loop0", "mmcblk1", false, Attachment.Slot)]
    [InlineData("board-c-6.6-emmc", "mmcblk2", "mmcblk2", false, Attachment.Fixed)]
    [InlineData("board-c-6.6-emmc", "vda", "vda", false, Attachment.Fixed)]
    [InlineData("board-d-6.1-reader", "/dev/sda1", "sda", true, Attachment.Reader)]
    [InlineData("board-d-5.10-bare", "mmcblk0", "mmcblk0", false, Attachment.Slot)]
    public void Resolve_Device_LeadsToItsDisk(string fixtureName, string text, string disk, bool partition, Attachment attachment)
    {
        using FixtureTree fixture = FixtureTree.Expand(fixtureName);
        ResolvedTarget target = Found(new TargetResolver(fixture.Tree).Resolve(text));
        Assert.Equal(
            (TargetKind.Device, disk, partition, attachment), (target.Kind, target.DiskName, target.IsPartition, target.Attachment));
        Assert.True(target.DiskBytes > 0);
        Assert.True(File.Exists(target.Path), target.Path);
    }

    [Theory]
    [InlineData("board-a-6.1-sdhc", "/boot", "mmcblk0", "vfat", "rw,relatime,fmask=0022")]
    [InlineData("board-d-6.1-reader", "/media/card one", "sda", "exfat", "rw,nosuid,uid=1000")]
    [InlineData("board-a-6.1-mapper", "/srv/vault", "mmcblk1", "ext4", "rw,relatime")]
    [InlineData("board-a-6.1-mapper", "/mnt/image", "mmcblk1", "ext4", "rw")]
    public void Resolve_MountPoint_LeadsToItsDisk(string fixtureName, string folder, string disk, string fileSystem, string options)
    {
        using FixtureTree fixture = FixtureTree.Expand(fixtureName);
        ResolvedTarget target = Found(new TargetResolver(fixture.Tree).Resolve(folder));
        Assert.Equal(
            (TargetKind.Folder, folder, disk, fileSystem, options),
            (target.Kind, target.Path, target.DiskName, target.FileSystem, target.MountOptions));
    }

    [Theory]
    [InlineData("/tmp", "board-a-6.1-sdhc", "tmpfs")]
    [InlineData("/srv/share", "board-a-6.1-mapper", "nfs4")]
    public void Resolve_FolderWithoutDisk_SaysSo(string folder, string fixtureName, string fileSystem)
    {
        using FixtureTree fixture = FixtureTree.Expand(fixtureName);
        ResolvedTarget target = Found(new TargetResolver(fixture.Tree).Resolve(folder));
        Assert.Equal((null, fileSystem, Attachment.Unknown), (target.DiskName, target.FileSystem, target.Attachment));
        Assert.Contains(fileSystem, target.Remark, StringComparison.Ordinal);
    }

    [Fact]
    public void Resolve_MappedDeviceAndLoop_KeepTheWholeChain()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-a-6.1-mapper");
        ResolvedTarget target = Found(new TargetResolver(fixture.Tree).Resolve("/mnt/image"));
        Assert.Equal(["loop0", "dm-0", "mmcblk1p1", "mmcblk1p2", "mmcblk1"], target.Chain);
        Assert.Equal((204800L * 512, 121634816L * 512, 14L), (target.DeviceBytes, target.DiskBytes, target.DiskSequence));
    }

    [Fact]
    public void Resolve_OldKernel_HasNoDiskSequence()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-d-5.10-bare");
        Assert.Null(Found(new TargetResolver(fixture.Tree).Resolve("mmcblk0")).DiskSequence);
    }

    [Fact]
    public void Resolve_TreeWithRegistersOnly_IsEnoughToIdentify()
    {
        using FixtureTree fixture = new FixtureTree().Text("sys/block/mmcblk0/device/cid", "0353445355303847800204968f00c560");
        ResolvedTarget target = Found(new TargetResolver(fixture.Tree).Resolve("/dev/mmcblk0"));
        Assert.Equal(("mmcblk0", 0L), (target.DiskName, target.DiskBytes));
        Assert.Contains("size", target.Remark, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("")]
    [InlineData("mmcblk7")]
    [InlineData("/dev/mmcblk7")]
    [InlineData("/no/such/folder")]
    [InlineData("../../etc")]
    [InlineData("/etc/hostname")]
    [InlineData("/dev/null")]
    [InlineData("a\0b")]
    public void Resolve_NothingThere_SaysWhatToDo(string text)
    {
        using FixtureTree fixture = FixtureTree.Expand("board-a-6.1-sdhc");
        TargetResolution resolution = new TargetResolver(fixture.Tree).Resolve(text);
        Assert.False(resolution.Found);
        Assert.EndsWith(".", resolution.Problem, StringComparison.Ordinal);
    }

    [Fact]
    public void Resolve_EmptySlotOfAReader_AsksForTheCard()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-d-6.1-reader");
        fixture.Text("sys/block/sda/size", "0");
        Assert.Contains("holds no medium", new TargetResolver(fixture.Tree).Resolve("sda").Problem, StringComparison.Ordinal);
    }

    [Fact]
    public void Resolve_ZeroByteInABackingFile_LeadsNowhere()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-a-6.1-mapper");
        fixture.Bytes("sys/block/loop0/loop/backing_file", "/dev/mmcblk1\0p1\n"u8.ToArray());
        ResolvedTarget target = Found(new TargetResolver(fixture.Tree).Resolve("loop0"));
        Assert.Equal("loop0", target.DiskName);
    }

    [Fact]
    public void Resolve_LinkLoop_Ends()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-a-6.1-sdhc");
        fixture.Link("dev/disk/by-label/one", "two").Link("dev/disk/by-label/two", "one");
        Assert.False(new TargetResolver(fixture.Tree).Resolve("/dev/disk/by-label/one").Found);
    }

    [Fact]
    public void Resolve_ThisMachinesRoot_AgreesWithFindmnt()
    {
        (int code, string output, _) = Shell.Try("findmnt", "-n", "-o", "FSTYPE", "/");
        if (code == 0)
        {
            Assert.Equal(output.Trim().Split('\n')[^1], Found(new TargetResolver(new SysfsTree("/")).Resolve("/")).FileSystem);
        }
    }

    private static ResolvedTarget Found(TargetResolution resolution)
    {
        Assert.True(resolution.Found, resolution.Problem);
        return resolution.Target;
    }
}
