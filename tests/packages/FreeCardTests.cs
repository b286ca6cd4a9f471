using Cardassay.EmulatedBoard.Harness;

namespace Cardassay.Packages.Tests;

/// <summary>The script udev asks whether a card may be given to the agent, on made-up machines: `sys`, `proc` as the kernel lays them out.</summary>
public sealed class FreeCardTests
{
    [Theory]
    [InlineData("36 1 179:2 / / rw - ext4 /dev/mmcblk0p2 rw", "", "mmcblk0", false)] // the root is on it
    [InlineData("36 1 179:2 / / rw - ext4 /dev/mmcblk0p2 rw", "", "mmcblk1", true)]
    [InlineData("36 1 8:1 / / rw - ext4 /dev/sda1 rw\n40 36 179:1 / /boot/firmware rw - vfat /dev/mmcblk0p1 rw", "", "mmcblk0", false)]
    [InlineData("36 1 8:1 / / rw - ext4 /dev/sda1 rw\n40 36 179:10 / /media/card rw - vfat /dev/mmcblk1p1 rw", "", "mmcblk1", true)] // under test
    [InlineData("36 1 254:0 / / rw - ext4 /dev/mapper/root rw", "", "mmcblk0", false)] // a mapped root on its partition
    [InlineData("36 1 254:0 / / rw - ext4 /dev/mapper/root rw", "", "mmcblk1", true)]
    [InlineData("36 1 0:22 / / rw - overlay overlay rw", "quiet root=/dev/mmcblk0p2 rw", "mmcblk0", false)]
    [InlineData("36 1 0:22 / / rw - overlay overlay rw", "quiet root=/dev/mmcblk0p2 rw", "mmcblk1", true)]
    [InlineData("36 1 8:1 / / rw - ext4 /dev/sda1 rw", "", "mmcblk7", false)] // no such card
    [InlineData("36 1 8:1 / / rw - ext4 /dev/sda1 rw", "", "", false)]
    public async Task IsFreeCard_RefusesTheCardTheSystemStandsOn(string mounts, string commandLine, string disk, bool isFree)
    {
        string root = WorkFolder.NewPath("machine");
        foreach ((string name, string number, string? partOf) in new[]
        {
            ("mmcblk0", "179:0", (string?)null), ("mmcblk0p1", "179:1", "mmcblk0"), ("mmcblk0p2", "179:2", "mmcblk0"),
            ("mmcblk1", "179:8", null), ("mmcblk1p1", "179:10", "mmcblk1"), ("sda", "8:0", null), ("sda1", "8:1", "sda"), ("dm-0", "254:0", null),
        })
        {
            string folder = $"sys/devices/some/block/{(partOf is null ? name : $"{partOf}/{name}")}";
            Directory.CreateDirectory(Path.Combine(root, folder));
            File.WriteAllText(Path.Combine(root, folder, "dev"), number + "\n");
            Directory.CreateDirectory(Path.Combine(root, "sys/dev/block"));
            File.CreateSymbolicLink(Path.Combine(root, "sys/dev/block", number), $"../../../{folder}");
            if (partOf is null)
            {
                Directory.CreateDirectory(Path.Combine(root, "sys/block"));
                File.CreateSymbolicLink(Path.Combine(root, "sys/block", name), $"../../{folder}");
            }
        }

        string slaves = Path.Combine(root, "sys/devices/some/block/dm-0/slaves");
        Directory.CreateDirectory(slaves);
        File.CreateSymbolicLink(Path.Combine(slaves, "mmcblk0p2"), "../../mmcblk0/mmcblk0p2");
        Directory.CreateDirectory(Path.Combine(root, "proc/self"));
        File.WriteAllText(Path.Combine(root, "proc/self/mountinfo"), mounts + "\n");
        File.WriteAllText(Path.Combine(root, "proc/cmdline"), commandLine + "\n");

        Ran ran = await Ran.ItAsync("/usr/bin/env", $"ROOT={root}", Repository.At("deploy", "systemd", "is-free-card"), disk);
        Assert.Empty(ran.Said);
        Assert.Equal(isFree ? 0 : 1, ran.ExitCode);
    }
}
