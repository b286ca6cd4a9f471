using Cardassay.Agent.BlockIo;
using Cardassay.Registers;
using Cardassay.Trials;

namespace Cardassay.Agent.Sysfs;

/// <summary>
/// Finds the card below what a person names: a kernel name (`mmcblk0`, `dm-0`), a path below `/dev` (links by-id, mapper
/// names), a partition, a mount point or any folder on a mounted file system.
/// </summary>
public sealed class TargetResolver(SysfsTree tree)
{
    private readonly BlockDevices _devices = new(tree);

    /// <summary>Resolves one target. Reads sysfs and procfs only; opens no device.</summary>
    public TargetResolution Resolve(string target)
    {
        if (string.IsNullOrWhiteSpace(target) || target.Contains('\0'))
        {
            return Fail("Name a target: a block device such as mmcblk0, a path below /dev, or a folder on the card.");
        }

        if (!target.Contains('/') && _devices.FolderOf(target) is not null)
        {
            return Device(target, null);
        }

        string path = System.IO.Path.TrimEndingDirectorySeparator(System.IO.Path.GetFullPath(target));
        if (path.StartsWith("/dev/", StringComparison.Ordinal) && _devices.FindByDevPath(path) is { } name)
        {
            return Device(name, tree.RealPath(path));
        }

        PathProbe probe = PathProbe.Of(path);
        if (probe.DeviceNumber is { } number)
        {
            return _devices.FindByNumber(number) is { } byNumber
                ? Device(byNumber, null)
                : Fail($"{target} is a block device node, but the kernel has no device {number}; is the card in the slot?");
        }

        if (probe.Kind is PathKind.File or PathKind.Other)
        {
            return Fail($"{target} is neither a block device nor a folder; name the device, or the folder the file lies in.");
        }

        MountTable mounts = ReadMounts();
        string real = probe.Kind == PathKind.Folder ? "/" + (new SysfsTree("/").RealPath(path) ?? path.TrimStart('/')) : path;
        return probe.Kind == PathKind.Folder || mounts.Entries.Any(e => e.Point == path)
            ? Folder(real, mounts)
            : Fail(tree.Exists("sys")
                ? $"There is no block device or folder {target}; `ls /sys/block` names the devices of this board."
                : $"There is no block device or folder {target}, and {tree.Root} holds no `sys`: "
                    + "point --sysfs at a folder with sys, proc and dev in it.");
    }

    /// <summary>The mounts of this process; empty when they cannot be read.</summary>
    public MountTable ReadMounts() => MountTable.Parse(TextFile.ReadTable(tree, "proc/self/mountinfo").Value ?? "");

    /// <summary>The device below a folder, which need not exist yet; null when there is none.</summary>
    public string? DeviceBelow(string folder, MountTable mounts)
    {
        var machine = new SysfsTree("/");
        string path = System.IO.Path.GetFullPath(folder);
        string? real = machine.RealPath(path);
        for (string? parent = path; real is null && parent is not null; parent = System.IO.Path.GetDirectoryName(parent))
        {
            // What does not exist yet will be made in the nearest folder that does. A mount point may exist in the table only.
            real = mounts.Entries.Any(e => e.Point == parent) ? parent : machine.RealPath(parent);
        }

        return mounts.Covering("/" + (real ?? "").TrimStart('/')) is { } mount ? _devices.DeviceOf(mount) : null;
    }

    private TargetResolution Device(string name, string? node)
    {
        Reading<long> size = _devices.SizeBytes(name);
        if (size is { IsKnown: true, Value: 0 })
        {
            return Fail($"{name} holds no medium (its size is 0); put the card in, or set the device up, and try again.");
        }

        return Ok(new ResolvedTarget
        {
            Kind = TargetKind.Device,
            Path = tree.PathOf(node ?? $"dev/{name.Replace('!', '/')}"),
            Remark = size.IsKnown ? null : $"The size of {name} could not be read{(size.Reason is { } why ? ": " + why : "")}.",
        }, name, ReadMounts());
    }

    private TargetResolution Folder(string folder, MountTable mounts)
    {
        var target = new ResolvedTarget { Kind = TargetKind.Folder, Path = folder, OpensAs = OpenedDevice.FileSystemOf(folder) };
        if (mounts.Covering(folder) is not { } mount)
        {
            return Ok(target with { Remark = "The mount table could not be read, so the disk below the folder is unknown." }, null, mounts);
        }

        target = target with { FileSystem = mount.FileSystem, MountOptions = mount.Options };
        return _devices.DeviceOf(mount) is { } device
            ? Ok(target, device, mounts)
            : Ok(target with { Remark = $"The folder lies on {mount.FileSystem}, which shows no disk below it." }, null, mounts);
    }

    private TargetResolution Ok(ResolvedTarget target, string? device, MountTable mounts)
    {
        if (device is null)
        {
            return new TargetResolution(target, null);
        }

        IReadOnlyList<string> chain = _devices.ChainBelow(device, mounts);
        IReadOnlyList<string> disks = [.. chain.Where(n => !_devices.IsPartition(n) && CardFiles.HasRegisters(tree, n))];
        if (disks.Count == 0)
        {
            // A loop device stands on a file, but unless there is a card further down it is a disk of its own.
            disks = _devices.DisksWritten(device, mounts);
        }

        string? disk = disks.Count > 0 ? disks[0] : null;
        return new TargetResolution(target with
        {
            DeviceName = device,
            OpensAs = target.Kind == TargetKind.Device ? _devices.NumberOf(device) : target.OpensAs,
            OpensAsSequence = target.Kind == TargetKind.Device ? DiskSequenceOf(_devices.IsPartition(device) ? chain[1] : device) : null,
            DeviceBytes = _devices.SizeBytes(device).Value,
            IsPartition = _devices.IsPartition(device),
            Chain = chain,
            DiskName = disk,
            Disks = disks,
            DiskBytes = disk is null ? 0 : _devices.SizeBytes(disk).Value,
            DiskSequence = disk is null ? null : DiskSequenceOf(disk),
            Attachment = disk is null ? Attachment.Unknown : AttachmentReader.Read(tree, disk),
        }, null);
    }

    internal long? DiskSequenceOf(string disk) =>
        TextFile.ReadNumber(tree, $"sys/block/{disk}/diskseq") is { IsKnown: true, Value: var number } ? number : null;

    private static TargetResolution Fail(string problem) => new(null, problem);
}
