using Cardassay.Agent.Sysfs;

namespace Cardassay.Agent.Guard;

/// <summary>
/// A folder destroys nothing, but it may not be on the card the person means: the figures then go to the sticker of a card that was never
/// touched, and a proof fills the disk the board lives on. Says why a folder must not be used; an empty answer is
/// the permission. Opens nothing.
/// </summary>
public sealed class FolderGuard(SysfsTree tree)
{
    /// <summary>
    /// Where media are mounted: /media and /mnt by the Filesystem Hierarchy Standard 3.0 (3.11, 3.12), /run/media by desktop
    /// systems (common practice, no source).
    /// </summary>
    private static readonly string[] MediaFolders = ["/run/media", "/media", "/mnt"];

    private readonly BlockDevices _devices = new(tree);

    /// <summary>All reasons against the folder; empty when there is none.</summary>
    public IReadOnlyList<Refusal> Check(FolderRequest request)
    {
        string path = request.Target.Path;
        MountTable mounts = new TargetResolver(tree).ReadMounts();
        var found = new List<Refusal>(Link(request));
        MountEntry? mount = mounts.Covering(path);
        found.AddRange(mount is null ? [] : NothingMounted(path, mount));
        if (found.Count == 0 && !request.AllowFixedDisk)
        {
            found.AddRange(mount is null ? Unknown(path) : OwnDisks(request, mounts, mount));
        }

        return found;
    }

    private static IEnumerable<Refusal> Link(FolderRequest request)
    {
        string written = Path.TrimEndingDirectorySeparator(Path.GetFullPath(request.Written));
        if (written != request.Target.Path)
        {
            yield return new Refusal("link",
                $"{written} leads through a link to {request.Target.Path}; name {request.Target.Path} if that folder is meant.");
        }
    }

    /// <summary>A card was expected there, and the folder lies on whatever is below its mount point.</summary>
    private IEnumerable<Refusal> NothingMounted(string path, MountEntry mount)
    {
        string? expected = MediaFolders.Concat(TableOfFileSystems()).Where(point => IsIn(path, point) && !IsIn(mount.Point, point))
            .MaxBy(point => point.Length);
        if (expected is not null)
        {
            string where = _devices.DeviceOf(mount) ?? mount.FileSystem;
            yield return new Refusal(
                "not-mounted",
                $"No card is mounted at {path}: it lies on {where}, mounted at {mount.Point}. Mount the card there and try again, "
                    + $"or name a folder that is not in {expected}.");
        }
    }

    /// <summary>Without /proc, or below a root that was changed (chroot), the kernel does not tell.</summary>
    private IEnumerable<Refusal> Unknown(string path)
    {
        yield return new Refusal(
            "folder-unknown",
            $"Which disk {path} lies on is not in {tree.PathOf("proc/self/mountinfo")}, so that it may be the one the system runs from; "
                + "if it is meant all the same, add --allow-fixed-disk.");
    }

    private IEnumerable<Refusal> OwnDisks(FolderRequest request, MountTable mounts, MountEntry mount)
    {
        const string Remedy = "is the card mounted? If that disk is what shall be measured, add --allow-fixed-disk.";
        string path = request.Target.Path;
        var system = new SystemDisk(tree);
        string? device = _devices.DeviceOf(mount);
        DevicePlace? place = device is null ? null : new DevicePlace(_devices, device, [mounts]);
        if (place is null
            ? system.Mounts(mounts).Any(m => m.DeviceNumber == mount.DeviceNumber)
            : system.Devices(mounts).Any(place.StandsOnWritten))
        {
            yield return new Refusal("system-folder",
                $"{path} lies on {place?.Disk ?? mount.FileSystem}, which the system of this board runs from; {Remedy}");
        }
        else if (request.JournalFolder is { } journal && place is not null
            && new TargetResolver(tree).DeviceBelow(journal, mounts) is { } below && place.StandsOnWritten(below))
        {
            yield return new Refusal("journal-folder", $"{path} lies on {place.Disk}, as the journal in {journal} does; {Remedy}");
        }
    }

    /// <summary>Mount points of fstab(5); its fields are escaped as those of mountinfo are.</summary>
    private IEnumerable<string> TableOfFileSystems() =>
        (TextFile.ReadTable(tree, "etc/fstab").Value ?? "").Split('\n')
            .Select(line => line.Split([' ', '\t'], StringSplitOptions.RemoveEmptyEntries))
            .Where(fields => fields.Length > 2 && !fields[0].StartsWith('#') && fields[1].StartsWith('/') && fields[1].Length > 1)
            .Select(fields => Path.TrimEndingDirectorySeparator(MountTable.Unescape(fields[1])));

    private static bool IsIn(string path, string folder) =>
        path == folder || (path.StartsWith(folder, StringComparison.Ordinal) && path[folder.Length] == '/');
}

/// <summary>Somebody wants to fill a scratch file in a folder.</summary>
public sealed record FolderRequest
{
    /// <summary>The folder.</summary>
    public required ResolvedTarget Target { get; init; }

    /// <summary>The folder as the person wrote it.</summary>
    public required string Written { get; init; }

    /// <summary>Folder of the journal as this process sees it, or null when there is none.</summary>
    public string? JournalFolder { get; init; }

    /// <summary>`--allow-fixed-disk`.</summary>
    public bool AllowFixedDisk { get; init; }
}
