using Cardassay.Registers;

namespace Cardassay.Agent.Sysfs;

/// <summary>
/// Reads the register files of a card, `/sys/block/NAME/device/*` (Linux, Documentation/driver-api/mmc/mmc-dev-attrs.rst and
/// drivers/mmc/core/{sd,mmc,bus}.c). The kernel caches them when it finds the card: reading them does not touch it.
/// </summary>
public static class CardFiles
{
    /// <summary>The files looked for; `prv`, `rev`, `life_time` and `pre_eol_info` exist for soldered memory (type MMC) only.</summary>
    public static readonly IReadOnlyList<string> Names =
    [
        "cid", "csd", "scr", "ssr", "date", "manfid", "oemid", "name", "hwrev", "fwrev", "serial", "erase_size",
        "preferred_erase_size", "ocr", "rca", "dsr", "type", "life_time", "pre_eol_info", "rev", "prv",
    ];

    /// <summary>
    /// Reads each file by itself, so that one bad file never loses the rest. Holds every name of <see cref="Names"/> that
    /// exists, known or unreadable; a name that is not there is a file the kernel does not offer.
    /// Empty for a disk that is no card: other buses have files of the same names (`type`, `rev`, `serial`) with other meanings.
    /// </summary>
    public static IReadOnlyDictionary<string, Reading<string>> Read(SysfsTree tree, string diskName)
    {
        var files = new SortedDictionary<string, Reading<string>>(StringComparer.Ordinal);
        if (!HasRegisters(tree, diskName))
        {
            return files;
        }

        foreach (string name in Names)
        {
            Reading<string> text = TextFile.Read(tree, $"sys/block/{diskName}/device/{name}");
            if (text.State != ReadingState.Absent)
            {
                files[name] = text;
            }
        }

        return files;
    }

    /// <summary>Whether the disk sits on a card bus (`device/subsystem` leads to `mmc`), where registers can be expected.</summary>
    public static bool HasRegisters(SysfsTree tree, string diskName)
    {
        string device = $"sys/block/{diskName}/device";
        return tree.RealPath($"{device}/subsystem") is { } bus
            ? bus.EndsWith("/mmc", StringComparison.Ordinal)
            : diskName.StartsWith("mmcblk", StringComparison.Ordinal) || tree.Exists($"{device}/cid");
    }
}
