using System.Globalization;
using Cardassay.Agent.Conditions;
using Cardassay.Agent.Delivery;
using Cardassay.Agent.Sysfs;
using Cardassay.Registers;
using Cardassay.Service;

namespace Cardassay.Agent.Commands;

/// <summary>What a new member can do and what it cannot, told when it joins and not in the middle of a night.</summary>
internal static class JoinChecks
{
    /// <summary>From this difference on a clock is worth a word, seconds (shown from 5 s on in the report too).</summary>
    private const double ClockSeconds = 5;

    /// <summary>What the package installs: who gets SD cards, and the user its service runs as (deploy/systemd).</summary>
    private const string DeviceRule = "usr/lib/udev/rules.d/60-cardassay-agent.rules";
    private const string ServiceUser = "cardassay-agent";
    private const string ServiceStarter = "usr/lib/systemd/system/cardassay-agent.path";

    /// <summary>Looks; touches no card.</summary>
    internal static IReadOnlyList<JoinCheck> Run(SysfsTree tree, AgentFolder folder, long collectorUnixNs, TimeProvider time)
    {
        var checks = new List<JoinCheck> { Model(tree), Journal(folder), Clock(collectorUnixNs, time),
            RawDevices(tree, ServiceFolder.UserName(), Environment.IsPrivilegedProcess) };
        checks.AddRange(SlotChecks.Run(tree));
        List<string> disks = [.. tree.Names("sys/block")
            .Where(d => d.StartsWith("mmcblk", StringComparison.Ordinal) && !d.Contains("boot", StringComparison.Ordinal))];
        if (disks.Count == 0)
        {
            checks.Add(
                new JoinCheck(false, "registers: there is no card in a slot now; put one in and `cardassay-agent identify` shows it."));
        }

        var bus = new HelperBusFiles(tree);
        foreach (string disk in disks)
        {
            if (CardSighting.Take(tree, disk) is { } card)
            {
                checks.Add(card.Identity.FromRegisters
                    ? new JoinCheck(true, $"registers of {disk}: {card.Identity.Text}")
                    : new JoinCheck(false, $"registers of {disk}: {card.Remark ?? "they cannot be read"}"));
            }

            if (ConditionsReader.HostOf(tree, disk) is { } host)
            {
                checks.Add(BusMode(disk, host, bus.Ios(host)));
            }
        }

        return checks;
    }

    /// <summary>Whether the package's service waits for this very folder to become a member's.</summary>
    internal static bool StartsByItself(SysfsTree tree, AgentFolder folder) =>
        ServiceFolder.Own(ServiceUser) == folder.Path && File.Exists(tree.PathOf(ServiceStarter));

    private static JoinCheck BusMode(string disk, string host, Reading<string> ios)
    {
        if (ios.IsKnown && BusState.Parse(ios.Value!).Mode is { } mode)
        {
            return new JoinCheck(true, $"bus mode of {disk}: {mode}");
        }

        string why = ios.State switch
        {
            ReadingState.Absent => $"there is no /sys/kernel/debug/{host}/ios (is debugfs mounted?)",
            ReadingState.Unreadable when ios.Reason!.Contains("helper", StringComparison.Ordinal) => ios.Reason,
            ReadingState.Unreadable => $"{ios.Reason}, and no helper reads it for this user (`cardassay-agent bus-files --help`)",
            _ => "the kernel names none",
        };
        return new JoinCheck(false, $"bus mode of {disk} unknown: {why}. Figures are kept, but no mark can be judged.");
    }

    private static JoinCheck Model(SysfsTree tree) => BoardFacts.Read(tree).Model.Value is { Length: > 0 } model
        ? new JoinCheck(true, $"board model: {model}")
        : new JoinCheck(false, "board model: the firmware tells none; the report shows \"unknown\".");

    private static JoinCheck Journal(AgentFolder folder)
    {
        long free = new DriveInfo(folder.Path).AvailableFreeSpace;
        return new JoinCheck(free > 64L << 20, $"journal in {folder.Journal}: {Text.Bytes(free)} free on its disk");
    }

    private static JoinCheck Clock(long collectorUnixNs, TimeProvider time)
    {
        double behind = (collectorUnixNs / 1e9) - ((time.GetUtcNow() - DateTimeOffset.UnixEpoch).TotalSeconds);
        return Math.Abs(behind) <= ClockSeconds
            ? new JoinCheck(true, "clock: agrees with the collector's")
            : new JoinCheck(false, string.Create(CultureInfo.InvariantCulture,
                $"clock: {Math.Abs(behind):0} s {(behind > 0 ? "behind" : "ahead of")} the collector's. Nothing is lost by it: "
                    + $"the difference is noted, and nights follow the collector's clock."));
    }

    /// <summary>
    /// Who may open raw devices here; by the rule that the package installs, not by trying: opening one
    /// makes the system look at it anew.
    /// </summary>
    internal static JoinCheck RawDevices(SysfsTree tree, string user, bool isRoot)
    {
        if (isRoot)
        {
            return new JoinCheck(true, "raw devices: this user may open them (writing still needs --erase with the card's identity)");
        }

        if (!File.Exists(tree.PathOf(DeviceRule)))
        {
            return new JoinCheck(false,
                $"raw devices: only root may open them here. The package's udev rule (/{DeviceRule}) gives SD cards in a slot to the user "
                    + $"{ServiceUser}; folders on a mounted card can be measured all the same.");
        }

        return user == ServiceUser
            ? new JoinCheck(true, "raw devices: the udev rule gives this user the SD cards in the slots, but not the one the system runs "
                + "from (writing still needs --erase with the card's identity)")
            : new JoinCheck(false,
                $"raw devices: the udev rule gives SD cards in a slot to the user {ServiceUser}, and this is {user}; "
                    + $"run as that user (sudo -u {ServiceUser}) or as root. Folders on a mounted card can be measured all the same.");
    }
}

/// <summary>One thing a member can or cannot do.</summary>
/// <param name="Works">True when it works.</param>
/// <param name="Sentence">What, and if it does not, why and what to do.</param>
internal sealed record JoinCheck(bool Works, string Sentence);
