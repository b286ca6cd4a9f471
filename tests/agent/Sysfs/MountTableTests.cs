using System.Globalization;
using Cardassay.Agent.Sysfs;

namespace Cardassay.Agent.Tests.Sysfs;

public class MountTableTests
{
    [Fact]
    public void Parse_ExampleOfTheKernelDocumentation_GivesItsFields()
    {
        // Linux, Documentation/filesystems/proc.rst, section 3.5.
        MountEntry entry = Assert.Single(MountTable.Parse("36 35 98:0 /mnt1 /mnt2 rw,noatime master:1 - ext3 /dev/root rw,errors=continue").Entries);
        Assert.Equal(new MountEntry(36, 35, "98:0", "/mnt2", "rw,noatime,errors=continue", "ext3", "/dev/root"), entry);
    }

    [Fact]
    public void Parse_EscapedPath_IsPlain() =>
        Assert.Equal("/media/a b\\c\n", MountTable.Parse("1 0 8:1 / /media/a\\040b\\134c\\012 rw - ext4 /dev/sda1 rw").Entries[0].Point);

    [Theory]
    [InlineData("")]
    [InlineData("1 0 8:1 /")]
    [InlineData("x 0 8:1 / / rw - ext4 /dev/sda1 rw")]
    [InlineData("1 0 8:1 / / rw ext4 /dev/sda1 rw")]
    [InlineData("1 0 8:1 / / rw - ext4")]
    public void Parse_BrokenLine_IsLeftOut(string text) => Assert.Empty(MountTable.Parse(text).Entries);

    [Theory]
    [InlineData("/", 1)]
    [InlineData("/mnt", 3)]
    [InlineData("/mnt/a", 3)]
    [InlineData("/mnt/b", 5)]
    [InlineData("/mnt/b/c", 5)]
    [InlineData("/mnt/bb", 3)]
    [InlineData("/twice/x", 7)]
    public void Covering_MountsOverMounts_TakesTheVisibleOne(string path, int expected)
    {
        MountTable table = MountTable.Parse("""
            1 0 8:1 / / rw - ext4 /dev/sda1 rw
            2 1 8:2 / /mnt/a rw - ext4 /dev/sda2 rw
            3 1 8:3 / /mnt rw - ext4 /dev/sda3 rw
            5 3 8:5 / /mnt/b rw - ext4 /dev/sda5 rw
            6 1 8:6 / /twice rw - ext4 /dev/sda6 rw
            7 6 8:7 / /twice rw - ext4 /dev/sda7 rw
            """);
        Assert.Equal(expected, table.Covering(path)!.Id);
    }

    [SkippableTheory]
    [InlineData("/")]
    [InlineData("/proc/sys")]
    [InlineData("/dev/shm")]
    [InlineData("/sys/block")]
    public void Covering_ThisMachine_AgreesWithFindmnt(string path)
    {
        // Outside witness: findmnt of util-linux.
        (int code, string output, _) = Shell.Try("findmnt", "-n", "-o", "ID,FSTYPE", "-T", path);
        Skip.If(code != 0, "findmnt is not installed");
        string[] words = output.Split((char[])[' ', '\n'], StringSplitOptions.RemoveEmptyEntries);
        MountEntry entry = MountTable.Parse(File.ReadAllText("/proc/self/mountinfo")).Covering(path)!;
        Assert.Equal((words[^2], words[^1]), (entry.Id.ToString(CultureInfo.InvariantCulture), entry.FileSystem));
    }
}
