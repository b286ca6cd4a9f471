using System.Globalization;
using Cardassay.Registers;

namespace Cardassay.Agent.Sysfs;

/// <summary>
/// The mounts of every mount namespace this process can see: a card mounted in a container, or by a service with a private
/// mount table, is mounted all the same.
/// </summary>
public static class ProcessMounts
{
    /// <summary>
    /// The own mount table first, then one of each other namespace found below `/proc`; best effort, since a namespace
    /// without a visible process, or one behind another process table, cannot be seen. Unreadable when the own table is.
    /// </summary>
    public static Reading<IReadOnlyList<MountTable>> ReadAll(SysfsTree tree)
    {
        Reading<string> own = TextFile.ReadTable(tree, "proc/self/mountinfo");
        if (!own.IsKnown)
        {
            return Reading<IReadOnlyList<MountTable>>.Unreadable(own.Reason ?? $"{tree.PathOf("proc/self/mountinfo")} does not exist");
        }

        var tables = new List<MountTable> { MountTable.Parse(own.Value!) };
        var texts = new HashSet<string>(StringComparer.Ordinal) { own.Value! };
        var spaces = new HashSet<string>(StringComparer.Ordinal) { NamespaceOf(tree, "self") ?? "" };
        foreach (string process in tree.Names("proc").Where(n => int.TryParse(n, NumberStyles.None, CultureInfo.InvariantCulture, out _)))
        {
            // The link needs the right to trace the process; without it the text itself tells one table from another.
            string? space = NamespaceOf(tree, process);
            if (space is not null && !spaces.Add(space))
            {
                continue;
            }

            if (TextFile.ReadTable(tree, $"proc/{process}/mountinfo") is { IsKnown: true, Value: { } text } && texts.Add(text))
            {
                tables.Add(MountTable.Parse(text));
            }
        }

        return Reading<IReadOnlyList<MountTable>>.Known(tables);
    }

    private static string? NamespaceOf(SysfsTree tree, string process) => new FileInfo(tree.PathOf($"proc/{process}/ns/mnt")).LinkTarget;
}
