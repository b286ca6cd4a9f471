namespace Cardassay.Agent.Sysfs;

/// <summary>The swap areas in use, from `/proc/swaps`.</summary>
public static class SwapAreas
{
    /// <summary>
    /// Paths of the areas: a device node or a file. The first line is a heading; the first column is escaped like a mount point.
    /// </summary>
    internal static IReadOnlyList<string> Parse(string text) =>
    [
        .. text.Split('\n').Skip(1)
            .Select(line => MountTable.Unescape(line.Split([' ', '\t'], 2)[0]))
            .Where(path => path.StartsWith('/')),
    ];

    /// <summary>Reads them; none when there is no such file (a kernel without swap).</summary>
    public static IReadOnlyList<string> Read(SysfsTree tree) => Parse(TextFile.ReadTable(tree, "proc/swaps").Value ?? "");
}
