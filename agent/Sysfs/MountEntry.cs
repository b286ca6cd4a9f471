namespace Cardassay.Agent.Sysfs;

/// <summary>One line of `/proc/PID/mountinfo` (Linux, Documentation/filesystems/proc.rst section 3.5).</summary>
/// <param name="Id">Number of the mount.</param>
/// <param name="ParentId">Number of the mount it sits on.</param>
/// <param name="DeviceNumber">"major:minor" of the file system; major 0 where it has no one device (btrfs,
/// overlay, tmpfs, network).</param>
/// <param name="Point">Where it is mounted.</param>
/// <param name="Options">Options of the mount and of the file system, as `/proc/mounts` joins them.</param>
/// <param name="FileSystem">Type ("ext4").</param>
/// <param name="Source">What was mounted ("/dev/mmcblk0p2").</param>
public sealed record MountEntry(
    int Id, int ParentId, string DeviceNumber, string Point, string Options, string FileSystem, string Source);
