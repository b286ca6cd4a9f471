using System.Globalization;
using Cardassay.Agent.BlockIo;
using Cardassay.Agent.Sysfs;
using Cardassay.Registers;
using Cardassay.Trials;

namespace Cardassay.Agent.Guard;

/// <summary>
/// Overwriting is never a default: says why a device must not be written. An empty answer is the permission. What could not
/// be found out counts against writing. The device is opened for reading only, for a moment, and only where the rest allows it.
/// </summary>
/// <param name="tree">Where the machine is asked.</param>
/// <param name="probe">Stands in for <see cref="ExclusiveOpen.Probe"/> where a test has no real device.</param>
public sealed class OverwriteGuard(SysfsTree tree, Func<string, string?, ExclusiveOutcome>? probe = null)
{
    private readonly BlockDevices _devices = new(tree);

    /// <summary>All reasons against writing, in the order of their weight; empty when there is none.</summary>
    /// <exception cref="ArgumentException">The target is not a device.</exception>
    public IReadOnlyList<Refusal> Check(OverwriteRequest request)
    {
        ResolvedTarget target = request.Target;
        if (target is not { Kind: TargetKind.Device, DeviceName: { } device })
        {
            throw new ArgumentException("Only a device target is overwritten.", nameof(request));
        }

        Reading<IReadOnlyList<MountTable>> mounts = ProcessMounts.ReadAll(tree);
        var found = new List<Refusal>();
        found.AddRange(Shape(target, device, _devices.HardwarePartitionOf(device)));
        if (mounts.IsKnown)
        {
            var place = new DevicePlace(_devices, device, mounts.Value!);
            found.AddRange(Use(place));
            found.AddRange(OnSystemDisk(place));
            found.AddRange(JournalDisk(place, request.JournalFolder));
            found.AddRange(ReadOnly(place));
            found.AddRange(FixedDisk(place, request.AllowFixedDisk));
        }
        else
        {
            found.Add(new Refusal("mounts-unknown",
                $"It cannot be told whether {device} is mounted: {mounts.Reason}; mount /proc and try again."));
        }

        found.AddRange(Identity(request, device));
        found.AddRange(Size(target, device, request.NeededBytes));
        found.AddRange(Exclusive(target, device, found));
        return found;
    }

    /// <summary>
    /// Whether the running system stands on a disk, as far as mounts and command line tell; false also where they cannot be read.
    /// </summary>
    internal bool HoldsSystem(string disk) =>
        ProcessMounts.ReadAll(tree) is { IsKnown: true, Value: { } mounts } && OnSystemDisk(new DevicePlace(_devices, disk, mounts)).Any();

    private static IEnumerable<Refusal> Shape(ResolvedTarget target, string device, string? hardwareDisk)
    {
        if (hardwareDisk is not null)
        {
            yield return new Refusal("partition",
                $"{device} is a hardware partition of {hardwareDisk} and may hold what the board starts from; name {hardwareDisk}.");
        }

        if (target.IsPartition)
        {
            yield return new Refusal(
                "partition",
                $"{device} is a partition; raw trials write whole devices only: name {target.Chain[1]}, or mount it and name a folder.");
        }
    }

    private IEnumerable<Refusal> Use(DevicePlace place)
    {
        foreach (IGrouping<string, string> mounted in place.Mounted().GroupBy(m => m.Name, m => m.Mount.Point))
        {
            string first = mounted.First();
            string more = mounted.Skip(1).Any() ? string.Create(CultureInfo.InvariantCulture, $" and {mounted.Count() - 1} more") : "";
            yield return new Refusal("mounted", $"{mounted.Key} is mounted at {first}{more}; unmount it (umount {first}) and try again.");
        }

        foreach (string name in SwapAreas.Read(tree).Select(path => _devices.HolderOfFile(path, place.Mounts[0])).OfType<string>()
                     .Where(place.Above.Contains))
        {
            yield return new Refusal("swap", $"{name} is in use as swap; switch it off (swapoff /dev/{name}) and try again.");
        }

        string[] holders = [.. place.Above.Where(n => !place.Chain.Contains(n) && !_devices.IsPartition(n))];
        if (holders.Length > 0)
        {
            yield return new Refusal(
                "held", $"{place.Device} is held by {string.Join(", ", holders)}, which was put together from it; take that down first.");
        }

        // A file system over several devices (btrfs) is mounted under one name only.
        foreach (string name in tree.Names("sys/fs/btrfs").SelectMany(id => tree.Names($"sys/fs/btrfs/{id}/devices"))
            .Where(place.Above.Contains))
        {
            yield return new Refusal("mounted", $"{name} belongs to a mounted file system of several devices; unmount it and try again.");
        }
    }

    private IEnumerable<Refusal> OnSystemDisk(DevicePlace place)
    {
        if (new SystemDisk(tree).Devices(place.Mounts[0]).Any(place.StandsOnWritten))
        {
            yield return new Refusal(
                "system-disk",
                $"The system of this board runs from {place.Disk}; test that card in another board, or name a folder on it.");
        }
    }

    private IEnumerable<Refusal> JournalDisk(DevicePlace place, string? folder)
    {
        if (folder is null)
        {
            yield break;
        }

        if (new TargetResolver(tree).DeviceBelow(folder, place.Mounts[0]) is { } device && place.StandsOnWritten(device))
        {
            yield return new Refusal("journal-disk", $"The journal in {folder} lies on {place.Disk}; put it on another disk with --data.");
        }
    }

    private IEnumerable<Refusal> ReadOnly(DevicePlace place)
    {
        if (place.Chain.FirstOrDefault(
            n => TextFile.ReadNumber(tree, $"{_devices.FolderOf(n)}/ro") is { IsKnown: true, Value: not 0 }) is { } name)
        {
            yield return new Refusal("read-only", $"{name} is read-only; move the card's lock switch, or name another device.");
        }
    }

    private IEnumerable<Refusal> FixedDisk(DevicePlace place, bool allowed)
    {
        if (place.Written.Count > 1)
        {
            yield return new Refusal("several-disks", $"{place.Device} spans {string.Join(", ", place.Written)}; name one disk.");
        }

        // The kernel's removable flag reads 0 for a card in a slot, so type SD counts as well.
        if (!allowed && place.Written.FirstOrDefault(
                n => AttachmentReader.Read(tree, n) != Attachment.Slot && !AttachmentReader.IsRemovable(tree, n)) is { } name)
        {
            yield return new Refusal(
                "fixed-disk",
                $"{name} is neither an SD card in a slot nor removable; if it shall be overwritten all the same, add --allow-fixed-disk.");
        }
    }

    private IEnumerable<Refusal> Identity(OverwriteRequest request, string device)
    {
        if (request.Target.DiskName is not { } disk || CardSighting.Take(tree, disk) is not { } now)
        {
            yield return new Refusal("gone", $"{device} is gone; put the card in and try again.");
            yield break;
        }

        string? changed = request.Seen is { } seen ? CardWatch.Compare(seen, now)
            : now.DiskSequence != request.Target.DiskSequence ? $"The medium of {disk} was changed since it was looked at." : null;
        if (changed is not null)
        {
            yield return new Refusal("changed", $"{changed} Look at it again with `identify {device}`.");
        }

        if (string.IsNullOrEmpty(request.EraseIdentity))
        {
            yield return new Refusal(
                "identity-missing", $"Writing destroys everything on {device}; if that is meant, say so with --erase {now.Identity}.");
        }
        else if (!string.Equals(request.EraseIdentity, now.Identity.Text, StringComparison.Ordinal))
        {
            yield return new Refusal(
                "identity-differs", $"{device} is {now.Identity}, not {request.EraseIdentity}; is the right card in the slot?");
        }
    }

    private static IEnumerable<Refusal> Size(ResolvedTarget target, string device, long neededBytes)
    {
        if (target.DeviceBytes <= 0)
        {
            yield return new Refusal("size-unknown", $"The size of {device} is unknown; take the card out, put it in again and try again.");
        }
        else if (neededBytes > target.DeviceBytes)
        {
            yield return new Refusal("too-small", string.Create(
                CultureInfo.InvariantCulture,
                $"The plan needs {neededBytes} bytes, but {device} has {target.DeviceBytes}; choose a plan with a smaller range."));
        }
    }

    private IEnumerable<Refusal> Exclusive(ResolvedTarget target, string device, IReadOnlyCollection<Refusal> already)
    {
        ExclusiveOutcome outcome = (probe ?? ExclusiveOpen.Probe)(target.Path, _devices.NumberOf(device));
        string[] explained = ["mounted", "swap", "held"];
        switch (outcome.State)
        {
            case ExclusiveState.Busy when !already.Any(r => explained.Contains(r.Id)):
                yield return new Refusal("in-use", $"Another program has opened {device} for itself; end it and try again.");
                break;
            case ExclusiveState.NoPermission:
                yield return new Refusal(
                    "no-permission", $"This user may not open {target.Path}; run as root, or as a user of the group that owns it.");
                break;
            case ExclusiveState.NotTheDevice:
                yield return new Refusal("not-the-device",
                    $"{target.Path} is not the node of {device} ({outcome.Detail}); name it by its kernel name.");
                break;
            case ExclusiveState.Failed:
                yield return new Refusal("cannot-open", $"{target.Path} cannot be opened: {outcome.Detail}.");
                break;
        }
    }
}
