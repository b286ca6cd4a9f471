using System.Diagnostics;
using System.Globalization;
using Cardassay.Agent.BlockIo;
using Cardassay.Agent.Guard;
using Cardassay.Agent.Sysfs;
using Cardassay.Agent.Tests.Sysfs;

namespace Cardassay.Agent.Tests.Guard;

/// <summary>The guard against the real kernel. Witness of "in use" is the kernel's own exclusive open and what mount and swapon do.</summary>
[Collection("loop devices")]
public class OverwriteGuardLoopTests
{
    private const long Bytes = 32 << 20;
    private static readonly SysfsTree Machine = new("/");

    [SkippableFact]
    public void Check_RightIdentity_Permits()
    {
        using LoopDevice loop = Create();
        Assert.Equal($"noregisters-{loop.Name}-{Bytes}-noserial", IdentityOf(loop));
        Assert.Empty(Check(loop));
    }

    [SkippableFact]
    public void Check_NoIdentity_IsRefusedAndNamesIt()
    {
        using LoopDevice loop = Create();
        Refusal refusal = Assert.Single(Check(loop, r => r with { EraseIdentity = null }));
        Assert.Equal("identity-missing", refusal.Id);
        Assert.Contains("--erase " + IdentityOf(loop), refusal.Text, StringComparison.Ordinal);
    }

    [SkippableFact]
    public void Check_WrongIdentity_IsRefused()
    {
        using LoopDevice loop = Create();
        Assert.Equal(["identity-differs"], Ids(Check(loop, r => r with { EraseIdentity = r.EraseIdentity + "0" })));
        Assert.Equal(["identity-differs"], Ids(Check(loop, r => r with { EraseIdentity = r.EraseIdentity!.ToUpperInvariant() })));
    }

    [SkippableFact]
    public void Check_WithoutFixedDiskFlag_IsRefused()
    {
        using LoopDevice loop = Create();
        Assert.Equal(["fixed-disk"], Ids(Check(loop, r => r with { AllowFixedDisk = false })));
    }

    [SkippableFact]
    public void Check_Mounted_IsRefusedUntilUnmounted()
    {
        using LoopDevice loop = Create();
        string point = loop.Mount();
        Refusal refusal = Assert.Single(Check(loop));
        Assert.Equal("mounted", refusal.Id);
        Assert.Contains(point, refusal.Text, StringComparison.Ordinal);
        Assert.Equal(ExclusiveState.Busy, ExclusiveOpen.Probe(loop.Node, null).State);

        ResolvedTarget folder = new TargetResolver(Machine).Resolve(point).Target!;
        Assert.Equal((loop.Name, "ext4", Bytes), (folder.DiskName, folder.FileSystem, folder.DiskBytes));
    }

    [SkippableFact]
    public void Check_MountedElsewhereByAnotherProcess_IsRefused()
    {
        using LoopDevice loop = Create();
        Shell.Run("mkfs.ext4", "-q", "-F", loop.Node);
        string point = Path.Combine(loop.Folder, "private");
        Directory.CreateDirectory(point);
        // A mount table of its own: invisible in the table of this process.
        using Process other = Process.Start(new ProcessStartInfo(
            "unshare", ["--mount", "sh", "-c", $"mount {loop.Node} '{point}' && echo ready && read x"]) { RedirectStandardInput = true, RedirectStandardOutput = true })!;
        try
        {
            Assert.Equal("ready", other.StandardOutput.ReadLine());
            Assert.DoesNotContain(point, File.ReadAllText("/proc/self/mountinfo"), StringComparison.Ordinal);
            Assert.Equal(["mounted"], Ids(Check(loop)));
        }
        finally
        {
            other.StandardInput.WriteLine();
            other.WaitForExit();
        }

        Assert.Empty(Check(loop));
    }

    [SkippableFact]
    public void Check_Swap_IsRefused()
    {
        using LoopDevice loop = Create();
        Shell.Run("mkswap", loop.Node);
        (int code, _, string error) = Shell.Try("swapon", loop.Node);
        Skip.If(code != 0, "this kernel takes no swap: " + error);
        loop.Later(() => Shell.Run("swapoff", loop.Node));
        Assert.Equal(["swap"], Ids(Check(loop)));
    }

    [SkippableFact]
    public void Check_MountedPartition_IsRefusedForTheWholeDisk()
    {
        using LoopDevice loop = Create("-P");
        string partition = AddPartition(loop);
        Assert.Empty(Check(loop));
        loop.Mount(partition);
        Refusal refusal = Assert.Single(Check(loop));
        Assert.Equal("mounted", refusal.Id);
        Assert.StartsWith(loop.Name + "p1 ", refusal.Text, StringComparison.Ordinal);
    }

    [SkippableFact]
    public void Check_PartitionAsTarget_IsRefusedButIdentified()
    {
        using LoopDevice loop = Create("-P");
        string partition = AddPartition(loop);
        ResolvedTarget target = new TargetResolver(Machine).Resolve(partition).Target!;
        Assert.Equal((true, loop.Name, Bytes, 16L << 20), (target.IsPartition, target.DiskName, target.DiskBytes, target.DeviceBytes));
        Refusal refusal = Assert.Single(new OverwriteGuard(Machine).Check(Request(target)));
        Assert.Equal("partition", refusal.Id);
        Assert.Contains($"name {loop.Name},", refusal.Text, StringComparison.Ordinal);
    }

    [SkippableFact]
    public void Check_AnotherLoopOnTop_IsRefused()
    {
        using LoopDevice loop = Create();
        string upper = Shell.Run("losetup", "-f", "--show", loop.Node);
        loop.Later(() => Shell.Run("losetup", "-d", upper));
        Refusal refusal = Assert.Single(Check(loop));
        Assert.Equal("held", refusal.Id);
        Assert.Contains(Path.GetFileName(upper), refusal.Text, StringComparison.Ordinal);
    }

    [SkippableFact]
    public void Check_HeldByDeviceMapper_IsRefused()
    {
        using LoopDevice loop = Create();
        Skip.If(Shell.Try("dmsetup", "targets").Code != 0, "this kernel has no device-mapper");
        string name = $"cardassay-{Environment.ProcessId}";
        Shell.Run("dmsetup", "create", name, "--table", $"0 1000 linear {loop.Node} 0");
        loop.Later(() => Shell.Run("dmsetup", "remove", name));
        Assert.Equal(["held"], Ids(Check(loop)));
        ResolvedTarget mapped = new TargetResolver(Machine).Resolve("/dev/mapper/" + name).Target!;
        Assert.Equal(loop.Name, mapped.DiskName);
        Assert.Empty(new OverwriteGuard(Machine).Check(Request(mapped)));
    }

    [SkippableFact]
    public void Check_ReadOnly_IsRefused()
    {
        using LoopDevice loop = Create("-r");
        Assert.Equal(["read-only"], Ids(Check(loop)));
    }

    [SkippableFact]
    public void Check_OpenedExclusively_IsRefused()
    {
        using LoopDevice loop = Create();
        using (DeviceTarget.Open(loop.Node, forWriting: true))
        {
            Assert.Equal(["in-use"], Ids(Check(loop)));
        }

        Assert.Empty(Check(loop));
    }

    [SkippableFact]
    public void TryTake_FreeDevice_KeepsOtherLockersAwayButNotTheTrials()
    {
        using LoopDevice loop = Create();
        using (DeviceLock? held = DeviceLock.TryTake(loop.Node, null, out _))
        {
            Assert.NotNull(held);
            // Witness: flock of util-linux, locking as a device manager does.
            Assert.NotEqual(0, Shell.Try("flock", "--shared", "--nonblock", loop.Node, "true").Code);
            Assert.Empty(Check(loop));
            using DeviceTarget trial = DeviceTarget.Open(loop.Node, forWriting: true);
            Assert.Equal(Bytes, trial.SizeBytes);
        }

        Assert.Equal(0, Shell.Try("flock", "--shared", "--nonblock", loop.Node, "true").Code);
    }

    [SkippableFact]
    public void TryTake_LockedElsewhere_SaysBusyAndEndsWhenCancelled()
    {
        using LoopDevice loop = Create();
        using DeviceLock? first = DeviceLock.TryTake(loop.Node, null, out _);
        using var cancel = new CancellationTokenSource();
        cancel.Cancel();
        Assert.Null(DeviceLock.TryTake(loop.Node, null, out ExclusiveOutcome outcome, cancel.Token));
        Assert.Equal(ExclusiveState.Busy, outcome.State);
        Assert.Null(DeviceLock.TryTake(loop.Node, "1:1", out outcome));
        Assert.Equal(ExclusiveState.NotTheDevice, outcome.State);
    }

    [SkippableFact]
    public void Check_JournalOnTheDevice_IsRefused()
    {
        using LoopDevice loop = Create();
        string point = loop.Mount();
        Assert.Equal(["mounted", "journal-disk"], Ids(Check(loop, r => r with { JournalFolder = Path.Combine(point, "journal") })));
        string link = Path.Combine(loop.Folder, "link");
        File.CreateSymbolicLink(link, point);
        Assert.Contains("journal-disk", Ids(Check(loop, r => r with { JournalFolder = Path.Combine(link, "not", "yet") })));
        // A loop device on a file of the journal's disk endangers the file only.
        Assert.DoesNotContain("journal-disk", Ids(Check(loop, r => r with { JournalFolder = loop.Folder })));
    }

    [SkippableFact]
    public void Check_JournalOnALoopFileOnTheDevice_IsRefused()
    {
        using LoopDevice loop = Create();
        string inner = Path.Combine(loop.Mount(), "inner");
        using (FileStream file = File.Create(inner))
        {
            file.SetLength(8 << 20);
        }

        string upper = Shell.Run("losetup", "-f", "--show", inner);
        loop.Later(() => Shell.Run("losetup", "-d", upper));
        string journal = Path.Combine(loop.Folder, "journal");
        Directory.CreateDirectory(journal);
        Shell.Run("mkfs.ext4", "-q", "-F", upper);
        Shell.Run("mount", upper, journal);
        loop.Later(() => Shell.Run("umount", journal));
        Assert.Contains("journal-disk", Ids(Check(loop, r => r with { JournalFolder = journal })));
    }

    [SkippableFact]
    public void Check_SystemDisk_IsRefused()
    {
        Skip.IfNot(Environment.IsPrivilegedProcess, "needs root");
        ResolvedTarget root = new TargetResolver(Machine).Resolve("/").Target!;
        Skip.If(root.DiskName is null, "the root of this machine has no disk");
        ResolvedTarget disk = new TargetResolver(Machine).Resolve(root.DiskName!).Target!;
        IReadOnlyList<Refusal> refusals = new OverwriteGuard(Machine).Check(Request(disk));
        Assert.Contains("system-disk", Ids(refusals));
        Assert.Contains("mounted", Ids(refusals));
    }

    [SkippableFact]
    public void Check_TooSmall_IsRefused()
    {
        using LoopDevice loop = Create();
        Assert.Equal(["too-small"], Ids(Check(loop, r => r with { NeededBytes = Bytes + 1 })));
        Assert.Empty(Check(loop, r => r with { NeededBytes = Bytes }));
    }

    [SkippableFact]
    public void Check_DeviceSetUpAnewSinceItWasSeen_IsRefused()
    {
        using LoopDevice loop = Create();
        ResolvedTarget target = new TargetResolver(Machine).Resolve(loop.Name).Target!;
        Skip.If(target.DiskSequence is null, "this kernel has no diskseq");
        CardSighting seen = CardSighting.Take(Machine, loop.Name)!;
        var watch = new CardWatch(Machine, seen);
        Assert.Null(watch.WhatChanged());
        Shell.Run("losetup", "-d", loop.Node);
        Shell.Run("losetup", loop.Node, loop.Image);
        Assert.Contains("diskseq", watch.WhatChanged(), StringComparison.Ordinal);
        Assert.Equal(["changed"], Ids(new OverwriteGuard(Machine).Check(Request(target))));
        Assert.Equal(["changed"], Ids(new OverwriteGuard(Machine).Check(Request(target) with { Seen = seen })));
    }

    [SkippableFact]
    public void Check_NodeOfAnotherDevice_IsRefused()
    {
        using LoopDevice loop = Create();
        ResolvedTarget target = new TargetResolver(Machine).Resolve(loop.Name).Target!;
        Assert.Equal(["not-the-device"], Ids(new OverwriteGuard(Machine).Check(Request(target) with { Target = target with { Path = "/dev/null" } })));
        Assert.Equal(["not-the-device"], Ids(new OverwriteGuard(Machine).Check(Request(target) with { Target = target with { Path = loop.Image } })));
    }

    [SkippableFact]
    public void Summary_LoopDevice_NamesSizeIdentityAndFileSystem()
    {
        using LoopDevice loop = Create();
        ResolvedTarget target = new TargetResolver(Machine).Resolve(loop.Name).Target!;
        IReadOnlyList<string> lines = DestructionSummary.Read(Machine, target, CardSighting.Take(Machine, loop.Name));
        Assert.Contains($"{loop.Name} will be destroyed: 33.6 MB", lines[0], StringComparison.Ordinal);
        Assert.Contains(IdentityOf(loop), lines[0], StringComparison.Ordinal);
        string point = loop.Mount();
        Assert.Contains(
            DestructionSummary.Read(Machine, target, null), l => l.Contains($"ext4, mounted at {point}", StringComparison.Ordinal));
    }

    private static LoopDevice Create(params string[] options)
    {
        Skip.IfNot(LoopDevice.Available, "needs root and loop devices");
        return LoopDevice.Create(Bytes, options);
    }

    // A partition table of a kind that this kernel may not read is not needed: the partition is added by ioctl (addpart).
    private static string AddPartition(LoopDevice loop)
    {
        (int code, _, string error) = Shell.Try("addpart", loop.Node, "1", "2048", (16 * 2048).ToString(CultureInfo.InvariantCulture));
        Skip.If(code != 0, "partitions cannot be added: " + error);
        return loop.Node + "p1";
    }

    private static string IdentityOf(LoopDevice loop) => CardSighting.Take(Machine, loop.Name)!.Identity.Text;

    private static OverwriteRequest Request(ResolvedTarget target) => new()
    {
        Target = target,
        EraseIdentity = CardSighting.Take(Machine, target.DiskName!)!.Identity.Text,
        AllowFixedDisk = true,
        NeededBytes = 1 << 20,
    };

    private static IReadOnlyList<Refusal> Check(LoopDevice loop, Func<OverwriteRequest, OverwriteRequest>? change = null)
    {
        OverwriteRequest request = Request(new TargetResolver(Machine).Resolve(loop.Node).Target!);
        return new OverwriteGuard(Machine).Check(change?.Invoke(request) ?? request);
    }

    private static string[] Ids(IEnumerable<Refusal> refusals) => [.. refusals.Select(r => r.Id)];
}
