using System.Globalization;
using Cardassay.Agent.Sysfs;
using Cardassay.Trials;

namespace Cardassay.Agent.Guard;

/// <summary>What a raw write would destroy, in words, for the person to read before.</summary>
public static class DestructionSummary
{
    /// <summary>
    /// One line for the device, then one for each partition with size, name, file system and label, as far as sysfs, the
    /// mount table and the device manager's notes (`/run/udev/data`, `/dev/disk/by-label`) tell. Reads nothing from the card.
    /// </summary>
    public static IReadOnlyList<string> Read(SysfsTree tree, ResolvedTarget target, CardSighting? sighting)
    {
        if (target.DeviceName is not { } device)
        {
            return [];
        }

        var devices = new BlockDevices(tree);
        string kind = target.Attachment switch
        {
            Attachment.Slot => "card in the slot",
            Attachment.Reader => "medium in a USB reader",
            Attachment.Fixed => "fixed storage",
            _ => "storage",
        };
        string who = sighting is null ? "" : $", {sighting.Identity}";
        var lines = new List<string> { $"Everything on {device} will be destroyed: {Size(target.DeviceBytes)}, {kind}{who}." };
        string[] parts = [.. devices.ClosureAbove([device]).Where(n => n != device)];
        lines.AddRange(parts.Prepend(device).Select(name => (Name: name, What: Describe(tree, devices, name)))
            .Where(line => line.Name != device || line.What.Length > 0)
            .Select(
                line => $"  {line.Name}: "
                    + $"{string.Join(", ", new[] { Size(devices.SizeBytes(line.Name).Value), line.What }.Where(s => s.Length > 0))}"));
        if (lines.Count == 1)
        {
            lines.Add("  No partition or file system is known to the system; the device may hold data all the same.");
        }

        return lines;
    }

    /// <summary>A size for people: decimal units, one decimal ("15.9 GB").</summary>
    internal static string Size(long bytes) => bytes switch
    {
        <= 0 => "size unknown",
        < 1_000_000 => string.Create(CultureInfo.InvariantCulture, $"{bytes / 1e3:0.0} kB"),
        < 1_000_000_000 => string.Create(CultureInfo.InvariantCulture, $"{bytes / 1e6:0.0} MB"),
        _ => string.Create(CultureInfo.InvariantCulture, $"{bytes / 1e9:0.0} GB"),
    };

    private static string Describe(SysfsTree tree, BlockDevices devices, string name)
    {
        IReadOnlyDictionary<string, string> notes = devices.NumberOf(name) is { } number
            ? Properties(TextFile.Read(tree, $"run/udev/data/b{number}").Value, "E:")
            : Properties(null, "");
        IReadOnlyDictionary<string, string> uevent = Properties(TextFile.Read(tree, $"{devices.FolderOf(name)}/uevent").Value, "");
        MountEntry? mount = new TargetResolver(tree).ReadMounts().Entries.FirstOrDefault(m => devices.DeviceOf(m) == name);
        string? fileSystem = notes.GetValueOrDefault("ID_FS_TYPE") ?? mount?.FileSystem;
        string? label = notes.GetValueOrDefault("ID_FS_LABEL") ?? LabelLink(tree, devices, name);
        string? partition = uevent.GetValueOrDefault("PARTNAME");
        var words = new List<string>();
        if (fileSystem is not null)
        {
            words.Add(fileSystem);
        }

        if (label is not null)
        {
            words.Add($"labelled \"{label}\"");
        }

        if (partition is not null)
        {
            words.Add($"partition name \"{partition}\"");
        }

        if (mount is not null)
        {
            words.Add($"mounted at {mount.Point}");
        }

        return string.Join(", ", words);
    }

    private static string? LabelLink(SysfsTree tree, BlockDevices devices, string name) =>
        tree.Names("dev/disk/by-label").FirstOrDefault(label => devices.FindByDevPath($"/dev/disk/by-label/{label}") == name);

    private static Dictionary<string, string> Properties(string? text, string prefix)
    {
        var found = new Dictionary<string, string>(StringComparer.Ordinal);
        foreach (string line in (text ?? "").Split('\n').Where(l => l.StartsWith(prefix, StringComparison.Ordinal)))
        {
            int equals = line.IndexOf('=');
            if (equals > prefix.Length)
            {
                found[line[prefix.Length..equals]] = line[(equals + 1)..];
            }
        }

        return found;
    }
}
