using Cardassay.Agent.Guard;
using Cardassay.Agent.Sysfs;
using Cardassay.Agent.Tests.Sysfs;
using Cardassay.Trials;

namespace Cardassay.Agent.Tests.Guard;

/// <summary>
/// A folder that is not on the card a person means. The mount tables are as proc_pid_mountinfo(5) describes them; where media are mounted is
/// that of the Filesystem Hierarchy Standard 3.0.
/// </summary>
public sealed class FolderGuardTests
{
    private const string Root = "26 1 179:2 / / rw,relatime - ext4 /dev/root rw\n";
    private const string Card = "40 26 179:33 / /media/card rw,relatime - ext4 /dev/mmcblk1p1 rw\n";

    [Theory]
    [InlineData("/media/card", Root + Card, "")]
    [InlineData("/media/card/sub/folder", Root + Card, "")]
    [InlineData("/media/cards", Root + Card, "not-mounted")] // beside the mounted one
    [InlineData("/media/card", Root, "not-mounted")]
    [InlineData("/mnt", Root, "not-mounted")]
    [InlineData("/mnt/card", Root, "not-mounted")]
    [InlineData("/run/media/u/card", Root + "27 26 0:22 / /run rw - tmpfs tmpfs rw\n", "not-mounted")]
    [InlineData("/srv/card", Root, "not-mounted")] // in the table of file systems
    [InlineData("/srv/the card", Root, "not-mounted")]
    [InlineData("/srv/card2", Root, "system-folder")]
    [InlineData("/srv/card", Root + "40 26 179:33 / /srv/card rw - ext4 /dev/mmcblk1p1 rw\n", "")]
    [InlineData("/home/u/scratch", Root, "system-folder")]
    [InlineData("/", Root, "system-folder")]
    [InlineData("/home/u/card", Root + "40 26 179:2 /x /home/u/card rw - ext4 /dev/root rw\n", "system-folder")] // the system's own disk, bound there
    [InlineData("/srv/x", "26 1 0:40 / / rw - overlay overlay rw\n", "system-folder")] // no disk shows, but it is the system's file system
    [InlineData("/srv/x", "", "folder-unknown")]
    public void Check_Folder_IsRefusedUnlessItsCardIsMounted(string path, string mounts, string refusal)
    {
        using FixtureTree fixture = Tree(mounts);
        Assert.Equal(refusal.Length == 0 ? [] : [refusal], Ids(fixture, path, allow: false));
    }

    [Theory]
    [InlineData("/home/u/scratch", "")] // the disk of the system, and that is what is meant
    [InlineData("/media/card", "not-mounted")] // a card is expected there all the same
    public void Check_WithConsent_OnlyTheDiskOfTheSystemIsAllowed(string path, string refusal)
    {
        using FixtureTree fixture = Tree(Root);
        Assert.Equal(refusal.Length == 0 ? [] : [refusal], Ids(fixture, path, allow: true));
    }

    [Theory]
    [InlineData("/media/card", "")]
    [InlineData("/media/card/", "")]
    [InlineData("/media/../media/card", "")]
    [InlineData("/media/link", "link")]
    public void Check_Link_IsRefusedWithWhereItLeads(string written, string refusal)
    {
        using FixtureTree fixture = Tree(Root + Card);
        IReadOnlyList<Refusal> found = new FolderGuard(fixture.Tree).Check(Request("/media/card") with { Written = written });
        Assert.Equal(refusal.Length == 0 ? [] : [refusal], found.Select(r => r.Id));
        Assert.All(found, r => Assert.Contains("name /media/card", r.Text, StringComparison.Ordinal));
    }

    [Fact]
    public void Check_DiskOfTheJournal_IsRefusedUntilAllowed()
    {
        using FixtureTree fixture = Tree(Root + Card + "41 26 179:33 / /journal rw - ext4 /dev/mmcblk1p1 rw\n");
        FolderRequest request = Request("/media/card") with { JournalFolder = "/journal" };
        Assert.Equal(["journal-folder"], new FolderGuard(fixture.Tree).Check(request).Select(r => r.Id));
        Assert.Empty(new FolderGuard(fixture.Tree).Check(request with { AllowFixedDisk = true }));
    }

    private static string[] Ids(FixtureTree fixture, string path, bool allow)
    {
        IReadOnlyList<Refusal> found = new FolderGuard(fixture.Tree).Check(Request(path) with { AllowFixedDisk = allow });
        Assert.All(found, r => Assert.Contains(path, r.Text, StringComparison.Ordinal));
        return [.. found.Select(r => r.Id)];
    }

    private static FolderRequest Request(string path) => new() { Target = new ResolvedTarget { Kind = TargetKind.Folder, Path = path }, Written = path };

    /// <summary>A board whose system runs from the card in one slot (179:2) and that has another in a second slot (179:33).</summary>
    private static FixtureTree Tree(string mounts)
    {
        FixtureTree fixture = FixtureTree.Expand("board-a-6.1-sdhc");
        fixture.Text("proc/self/mountinfo", mounts);
        fixture.Text("proc/cmdline", "console=tty1\n");
        fixture.Text("etc/fstab", "# <file system> <mount point>\n/dev/mmcblk1p1\t/srv/card ext4 noauto 0 0\nLABEL=x /srv/the\\040card vfat nofail 0 0\nproc /proc proc defaults 0 0\n/dev/root / ext4 defaults 0 1\n");
        foreach ((string disk, string part, string numberOfDisk, string number) in new[] { ("mmcblk0", "mmcblk0p2", "179:0", "179:2"), ("mmcblk1", "mmcblk1p1", "179:32", "179:33") })
        {
            fixture.Text($"sys/block/{disk}/dev", numberOfDisk);
            fixture.Text($"sys/block/{disk}/{part}/dev", number);
            fixture.Text($"sys/block/{disk}/{part}/partition", "1");
        }

        return fixture;
    }
}
