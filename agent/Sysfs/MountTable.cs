using System.Globalization;
using System.Text;

namespace Cardassay.Agent.Sysfs;

/// <summary>The mounts of one process, from `/proc/PID/mountinfo`.</summary>
public sealed class MountTable
{
    private MountTable(IReadOnlyList<MountEntry> entries) => Entries = entries;

    /// <summary>All mounts, in the kernel's order (a later one covers an earlier one).</summary>
    public IReadOnlyList<MountEntry> Entries { get; }

    /// <summary>Reads the text of a mountinfo file; a line that does not parse is left out.</summary>
    public static MountTable Parse(string text)
    {
        var entries = new List<MountEntry>();
        foreach (string line in text.Split('\n'))
        {
            // 36 35 98:0 /mnt1 /mnt2 rw,noatime master:1 - ext3 /dev/root rw,errors=continue
            string[] parts = line.Split(' ');
            int dash = Array.IndexOf(parts, "-", Math.Min(6, parts.Length));
            if (dash < 0 || parts.Length < dash + 3
                || !int.TryParse(parts[0], NumberStyles.None, CultureInfo.InvariantCulture, out int id)
                || !int.TryParse(parts[1], NumberStyles.None, CultureInfo.InvariantCulture, out int parent))
            {
                continue;
            }

            string superOptions = parts.Length > dash + 3 ? parts[dash + 3] : "";
            string[] options = [.. parts[5].Split(',').Concat(superOptions.Split(',')).Where(o => o.Length > 0).Distinct()];
            entries.Add(new MountEntry(
                id, parent, parts[2], Unescape(parts[4]), string.Join(',', options), parts[dash + 1], Unescape(parts[dash + 2])));
        }

        return new MountTable(entries);
    }

    /// <summary>
    /// The mount a path lies on, by walking down from the root mount as the kernel does: a mount that was later covered by
    /// another one is not taken. Null when the table holds no root.
    /// </summary>
    /// <param name="path">Absolute path without links.</param>
    public MountEntry? Covering(string path)
    {
        var ids = Entries.Select(e => e.Id).ToHashSet();
        MountEntry? found = Next(path, e => !ids.Contains(e.ParentId) || e.ParentId == e.Id);
        for (int steps = 0; found is not null && steps < Entries.Count; steps++)
        {
            int parent = found.Id;
            MountEntry? next = Next(path, e => e.ParentId == parent && e.Id != parent);
            if (next is null)
            {
                break;
            }

            found = next;
        }

        return found;
    }

    // Of several candidates the path meets the shortest mount point first; of equal ones the last was put on top.
    private MountEntry? Next(string path, Func<MountEntry, bool> isCandidate)
    {
        MountEntry? best = null;
        foreach (MountEntry e in Entries)
        {
            if (isCandidate(e) && Contains(e.Point, path) && (best is null || e.Point.Length <= best.Point.Length))
            {
                best = e;
            }
        }

        return best;
    }

    private static bool Contains(string point, string path) =>
        point == "/" || (path.StartsWith(point, StringComparison.Ordinal) && (path.Length == point.Length || path[point.Length] == '/'));

    /// <summary>Undoes the kernel's `\ooo` for space, tab, newline and backslash (fs/proc_namespace.c, mangle).</summary>
    internal static string Unescape(string text)
    {
        if (!text.Contains('\\'))
        {
            return text;
        }

        var plain = new StringBuilder(text.Length);
        for (int i = 0; i < text.Length; i++)
        {
            if (text[i] == '\\' && i + 3 < text.Length && Octal(text, i + 1, out char c))
            {
                plain.Append(c);
                i += 3;
            }
            else
            {
                plain.Append(text[i]);
            }
        }

        return plain.ToString();
    }

    private static bool Octal(string text, int at, out char c)
    {
        int value = 0;
        for (int i = at; i < at + 3; i++)
        {
            if (text[i] is < '0' or > '7')
            {
                c = default;
                return false;
            }

            value = (value * 8) + (text[i] - '0');
        }

        c = (char)value;
        return value < 128;
    }
}

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
