using Cardassay.Agent.BlockIo;
using Cardassay.Registers;

namespace Cardassay.Agent.Sysfs;

/// <summary>
/// Block devices as `/sys/block` and `/sys/class/block` show them, and how they lie on each other: partitions on disks,
/// device-mapper and RAID devices on their `slaves`, loop devices on their backing file.
/// </summary>
public sealed class BlockDevices(SysfsTree tree)
{
    /// <summary>Kernel names of all block devices, partitions among them.</summary>
    public IReadOnlyList<string> All()
    {
        var names = new SortedSet<string>(tree.Names("sys/class/block"), StringComparer.Ordinal);
        foreach (string disk in tree.Names("sys/block"))
        {
            names.Add(disk);
            names.UnionWith(Partitions(disk));
        }

        return [.. names];
    }

    /// <summary>Folder of a device inside the tree, or null when the kernel knows no such name.</summary>
    public string? FolderOf(string name)
    {
        if (name.Length is 0 or > 255 || name is "." or ".." || name.Contains('/') || name.Contains('\0'))
        {
            return null;
        }

        return tree.RealPath($"sys/block/{name}") ?? tree.RealPath($"sys/class/block/{name}")
            ?? tree.Names("sys/block").Where(disk => name.StartsWith(disk, StringComparison.Ordinal))
                .Select(disk => tree.RealPath($"sys/block/{disk}/{name}"))
                .FirstOrDefault(folder => folder is not null && tree.Exists($"{folder}/partition"));
    }

    /// <summary>Whether the device is a partition of another.</summary>
    public bool IsPartition(string name) => FolderOf(name) is { } folder && tree.Exists($"{folder}/partition");

    /// <summary>
    /// The disk of which this is a partition in hardware (`mmcblk2boot0`, `mmcblk2rpmb`), or null. It looks like a disk, but its
    /// folder lies in that of the real one (Linux, drivers/mmc/core/block.c, mmc_blk_alloc_part).
    /// </summary>
    public string? HardwarePartitionOf(string name) =>
        FolderOf(name) is { } folder && !tree.Exists($"{folder}/partition")
        && folder.Split('/') is [.., var above, _] && above != "block" && FolderOf(above) is not null ? above : null;

    /// <summary>Kernel names of the partitions of a disk.</summary>
    public IReadOnlyList<string> Partitions(string disk) =>
        FolderOf(disk) is { } folder
            ? [.. tree.Names(folder).Where(n => n.StartsWith(disk, StringComparison.Ordinal) && tree.Exists($"{folder}/{n}/partition"))]
            : [];

    /// <summary>Size in bytes: the file `size` counts units of 512 bytes whatever the sector size is.</summary>
    public Reading<long> SizeBytes(string name)
    {
        if (FolderOf(name) is not { } folder)
        {
            return Reading<long>.Absent();
        }

        Reading<long> sectors = TextFile.ReadNumber(tree, $"{folder}/size");
        return sectors switch
        {
            { IsKnown: false } => sectors,
            { Value: < 0 or > long.MaxValue / 512 } => Reading<long>.Unreadable("its size is out of range"),
            _ => Reading<long>.Known(sectors.Value * 512),
        };
    }

    /// <summary>"major:minor" of a device, or null.</summary>
    public string? NumberOf(string name) =>
        FolderOf(name) is { } folder && TextFile.Read(tree, $"{folder}/dev") is { IsKnown: true, Value: { } text } ? text.Trim() : null;

    /// <summary>Kernel name of "major:minor", or null.</summary>
    public string? FindByNumber(string number)
    {
        if (number.StartsWith("0:", StringComparison.Ordinal))
        {
            return null;
        }

        return tree.RealPath($"sys/dev/block/{number}") is { } folder ? folder.Split('/')[^1]
            : All().FirstOrDefault(name => NumberOf(name) == number);
    }

    /// <summary>
    /// Kernel name of a path below `/dev`: links are followed; then the number of the node decides, and where the tree holds
    /// no real node, its name (for device-mapper the name in `dm/name`).
    /// </summary>
    public string? FindByDevPath(string path)
    {
        string inside = tree.RealPath(path) ?? path.TrimStart('/');
        PathProbe probe = PathProbe.Of(tree.PathOf(inside));
        if (probe.DeviceNumber is { } number && FindByNumber(number) is { } numbered)
        {
            return numbered;
        }

        if (probe.DeviceNumber is not null || !inside.StartsWith("dev/", StringComparison.Ordinal))
        {
            return null;
        }

        // The kernel writes '/' in a device name as '!' in sysfs.
        string name = inside["dev/".Length..].Replace('/', '!');
        return FolderOf(name) is not null ? name
            : inside.StartsWith("dev/mapper/", StringComparison.Ordinal) ? FindByMapperName(inside["dev/mapper/".Length..]) : null;
    }

    /// <summary>
    /// The devices directly below one: the disk of a partition, the slaves of a device-mapper or RAID device, what holds the
    /// backing file of a loop device. Empty for a disk that stands on nothing.
    /// </summary>
    /// <param name="name">Kernel name.</param>
    /// <param name="mounts">Mounts, to find what a backing file lies on.</param>
    public IReadOnlyList<string> Below(string name, MountTable mounts)
    {
        if (FolderOf(name) is not { } folder)
        {
            return [];
        }

        if (tree.Exists($"{folder}/partition"))
        {
            return [folder.Split('/')[^2]];
        }

        IReadOnlyList<string> slaves = tree.Names($"{folder}/slaves");
        return slaves.Count > 0 ? slaves
            : BackingFile(name) is { } file && HolderOfFile(file, mounts) is { } holder ? [holder] : [];
    }

    /// <summary>File or device a loop device stands on, or null.</summary>
    public string? BackingFile(string name) =>
        FolderOf(name) is { } folder && TextFile.ReadTable(tree, $"{folder}/loop/backing_file") is { IsKnown: true, Value: { } text }
            ? text.TrimEnd('\n') : null;

    /// <summary>The device a file lies on, or the device itself when the path is a device node.</summary>
    public string? HolderOfFile(string path, MountTable mounts) =>
        (path.StartsWith("/dev/", StringComparison.Ordinal) ? FindByDevPath(path) : null)
        ?? (mounts.Covering(path) is { } mount ? DeviceOf(mount) : null);

    /// <summary>The device of a mount: by its number, or by its source where the file system spans devices (btrfs).</summary>
    public string? DeviceOf(MountEntry mount) =>
        FindByNumber(mount.DeviceNumber)
        ?? (mount.Source.StartsWith("/dev/", StringComparison.Ordinal) ? FindByDevPath(mount.Source) : null);

    /// <summary>The device and everything below it, nearest first, each once.</summary>
    public IReadOnlyList<string> ChainBelow(string name, MountTable mounts)
    {
        var chain = new List<string> { name };
        for (int i = 0; i < chain.Count; i++)
        {
            chain.AddRange(Below(chain[i], mounts).Except(chain));
        }

        return chain;
    }

    /// <summary>
    /// The disks that writing to a device changes: below partitions and put-together devices, but not below a loop device,
    /// where only a file changes. More than one when the device spans several.
    /// </summary>
    public IReadOnlyList<string> DisksWritten(string name, MountTable mounts) =>
        [.. ChainWritten(name, mounts).Where(n => BackingFile(n) is not null || Below(n, mounts).Count == 0)];

    /// <summary>As <see cref="ChainBelow"/>, but ending at a loop device.</summary>
    public IReadOnlyList<string> ChainWritten(string name, MountTable mounts)
    {
        var chain = new List<string> { name };
        for (int i = 0; i < chain.Count; i++)
        {
            if (BackingFile(chain[i]) is null)
            {
                chain.AddRange(Below(chain[i], mounts).Except(chain));
            }
        }

        return chain;
    }

    /// <summary>
    /// Everything that stands on one of the devices, themselves included: partitions, holders (device-mapper, RAID), loop
    /// devices whose backing file is one of them.
    /// </summary>
    public IReadOnlyList<string> ClosureAbove(IEnumerable<string> names)
    {
        var found = new List<string>(names);
        var loops = All().Select(n => (Name: n, File: BackingFile(n))).Where(l => l.File is not null)
            .Select(l => (l.Name, On: l.File!.StartsWith("/dev/", StringComparison.Ordinal) ? FindByDevPath(l.File) : null)).ToList();
        for (int i = 0; i < found.Count; i++)
        {
            string name = found[i];
            found.AddRange(
                Partitions(name).Concat(Holders(name)).Concat(loops.Where(l => l.On == name).Select(l => l.Name)).Except(found).ToList());
        }

        return found;
    }

    /// <summary>Devices put together from this one (`holders`).</summary>
    public IReadOnlyList<string> Holders(string name) => FolderOf(name) is { } folder ? tree.Names($"{folder}/holders") : [];

    private string? FindByMapperName(string mapperName) =>
        tree.Names("sys/block").FirstOrDefault(
            n => TextFile.Read(tree, $"sys/block/{n}/dm/name") is { IsKnown: true, Value: { } text } && text == mapperName);
}
