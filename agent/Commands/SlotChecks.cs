using Cardassay.Agent.Guard;
using Cardassay.Agent.Sysfs;

namespace Cardassay.Agent.Commands;

/// <summary>
/// Which slots this board has for a card to test, and whether one of them is mounted. Kernel:
/// Documentation/driver-api/mmc/mmc-dev-attrs.rst (`type` of a card); a host is a folder of /sys/class/mmc_host, and what is
/// in its slot a folder below it.
/// </summary>
internal static class SlotChecks
{
    private const string Hosts = "sys/class/mmc_host";

    /// <summary>deploy/README.md, "Cards in a slot, cards on a mount".</summary>
    internal const string OwnSystem =
        "start the system from a USB disk or the network to free the slot, or measure a folder on this card, which shows neither its true "
            + "capacity nor its marks (deploy/README.md, \"Cards in a slot\")";

    /// <summary>Looks; touches no card.</summary>
    internal static IEnumerable<JoinCheck> Run(SysfsTree tree)
    {
        IReadOnlyList<string> hosts = tree.Names(Hosts);
        if (hosts.Count == 0)
        {
            yield return new JoinCheck(false,
                "slots: the kernel shows no host for SD cards on this board. A card in a USB reader can be measured, "
                    + "but the reader hides its registers.");
            yield break;
        }

        List<string> cards =
        [
            .. tree.Names("sys/block").Where(disk => TypeOf(tree, $"sys/block/{disk}/device") == "SD").Order(StringComparer.Ordinal),
        ];
        var guard = new OverwriteGuard(tree);
        List<string> own = [.. cards.Where(guard.HoldsSystem)];
        List<string> free = [.. cards.Except(own)];
        List<string> empty =
        [
            .. hosts.Where(host => !tree.Names($"{Hosts}/{host}").Any(card => card.StartsWith(host + ":", StringComparison.Ordinal))),
        ];
        yield return (own, free, empty) switch
        {
            ({ Count: > 0 }, { Count: 0 }, { Count: 0 }) => new JoinCheck(false,
                $"slots: the only card, {own[0]}, is the one this system runs from, and no other slot shows: {OwnSystem}."),
            ({ Count: > 0 }, { Count: 0 }, _) => new JoinCheck(true,
                $"slots: {own[0]} holds this system and is left alone; {string.Join(", ", empty)} shows no card and may be a "
                    + "slot for the one to test"),
            (_, { Count: 0 }, { Count: 0 }) => new JoinCheck(false,
                "slots: every host of this board is taken by soldered flash or a radio, and no slot shows a card. "
                    + "A card in a USB reader can be measured, but the reader hides its registers."),
            (_, { Count: 0 }, _) =>
                new JoinCheck(true, $"slots: no card is in one now; {string.Join(", ", empty)} shows none and may be a slot"),
            _ => new JoinCheck(true, $"slots: {string.Join(", ", free)} can be "
                + $"tested{(own.Count > 0 ? $"; {own[0]} holds this system and is left alone" : "")}"),
        };

        if (free.Count > 0)
        {
            yield return OnAMount(tree, free);
        }
    }

    /// <summary>Why the kernel shows no such card; null when something else was named.</summary>
    internal static string? WhyNoCard(SysfsTree tree, string target) =>
        Path.GetFileName(target) is not { } name || !name.StartsWith("mmcblk", StringComparison.Ordinal) ? null
        : tree.Names(Hosts) is { Count: > 0 } hosts
            ? $"The kernel sees no such card at its hosts ({string.Join(", ", hosts)}): push it in anew, "
                + "and look into `dmesg | grep mmc` for errors."
            : "The kernel shows no host for SD cards at all: this board has no slot that it knows. "
                + "A card in a USB reader is named sda or the like.";

    private static JoinCheck OnAMount(SysfsTree tree, List<string> free)
    {
        var devices = new BlockDevices(tree);
        MountTable mounts = new TargetResolver(tree).ReadMounts();
        MountEntry? mounted = mounts.Entries.FirstOrDefault(
            mount => devices.DeviceOf(mount) is { } device && devices.ChainBelow(device, mounts).Any(free.Contains));
        return mounted is not null
            ? new JoinCheck(true, $"folder on a card: {mounted.Point}, when the agent's user owns it; "
                + "the device below it cannot be overwritten while it is mounted")
            : new JoinCheck(false,
                "folder on a card: no card in a slot is mounted, and raw devices need none to be. "
                    + "For folder targets the package brings a rule, off by default (deploy/README.md, \"Cards in a slot\").");
    }

    private static string? TypeOf(SysfsTree tree, string device) =>
        TextFile.Read(tree, $"{device}/type") is { IsKnown: true, Value: { } text } ? text.Trim() : null;
}
