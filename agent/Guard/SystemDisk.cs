using Cardassay.Agent.Sysfs;

namespace Cardassay.Agent.Guard;

/// <summary>What the system of this board runs from.</summary>
internal sealed class SystemDisk(SysfsTree tree)
{
    // A boot or system file system may be anywhere below these.
    private static readonly string[] Folders =
        ["/", "/boot", "/boot/efi", "/boot/firmware", "/efi", "/etc", "/usr", "/var", "/var/lib", "/home", "/opt"];

    private readonly BlockDevices _devices = new(tree);

    /// <summary>The mounts the system lies on, as this process and the first one see them.</summary>
    public IEnumerable<MountEntry> Mounts(MountTable own) =>
        FirstProcess().Prepend(own).SelectMany(table => Folders.Select(table.Covering).OfType<MountEntry>());

    /// <summary>The devices the system lies on.</summary>
    public IEnumerable<string> Devices(MountTable own) =>
        Mounts(own).Select(_devices.DeviceOf).Append(KernelRoot()).OfType<string>().Distinct();

    private IEnumerable<MountTable> FirstProcess() =>
        TextFile.ReadTable(tree, "proc/1/mountinfo") is { IsKnown: true, Value: { } text } ? [MountTable.Parse(text)] : [];

    /// <summary>
    /// The device the kernel was told to take its root from; the mount table hides it below an overlay or in a container.
    /// </summary>
    private string? KernelRoot()
    {
        string? root = (TextFile.Read(tree, "proc/cmdline").Value ?? "").Split(' ', '\n')
            .LastOrDefault(word => word.StartsWith("root=", StringComparison.Ordinal))?["root=".Length..];
        string? path = root switch
        {
            null => null,
            _ when root.StartsWith("PARTUUID=", StringComparison.Ordinal) => "/dev/disk/by-partuuid/" + root["PARTUUID=".Length..],
            _ when root.StartsWith("UUID=", StringComparison.Ordinal) => "/dev/disk/by-uuid/" + root["UUID=".Length..],
            _ when root.StartsWith("LABEL=", StringComparison.Ordinal) => "/dev/disk/by-label/" + root["LABEL=".Length..],
            _ => root,
        };
        return path is not null && path.StartsWith("/dev/", StringComparison.Ordinal) ? _devices.FindByDevPath(path) : null;
    }
}
