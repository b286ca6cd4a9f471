using Cardassay.Agent.Sysfs;
using Cardassay.Registers;

namespace Cardassay.Agent.Conditions;

/// <summary>What the board says of itself.</summary>
/// <param name="Model">`/proc/device-tree/model`, else the product name of the firmware (`/sys/class/dmi/id/product_name`);
/// absent on many machines.</param>
/// <param name="KernelRelease">`/proc/sys/kernel/osrelease`.</param>
/// <param name="BootId">`/proc/sys/kernel/random/boot_id`; another one after every start.</param>
/// <param name="HostName">`/proc/sys/kernel/hostname`.</param>
public sealed record BoardFacts(Reading<string> Model, Reading<string> KernelRelease, Reading<string> BootId, Reading<string> HostName)
{
    /// <summary>Reads all four, each by itself.</summary>
    public static BoardFacts Read(SysfsTree tree) => new(
        FirstKnown(Text(tree, "proc/device-tree/model"), () => Text(tree, "sys/class/dmi/id/product_name")),
        Text(tree, "proc/sys/kernel/osrelease"),
        Text(tree, "proc/sys/kernel/random/boot_id"),
        Text(tree, "proc/sys/kernel/hostname"));

    private static Reading<string> FirstKnown(Reading<string> first, Func<Reading<string>> second) =>
        first.State == ReadingState.Absent ? second() : first;

    private static Reading<string> Text(SysfsTree tree, string inside)
    {
        // Strings of a device tree end in a zero byte (Devicetree Specification 0.4, section 2.2.4).
        Reading<string> text = TextFile.Read(tree, inside);
        return text.IsKnown ? Reading<string>.Known(text.Value!.Replace("\\x00", "", StringComparison.Ordinal).Trim()) : text;
    }
}
