using Cardassay.Agent.Conditions;
using Cardassay.Agent.Sysfs;
using Cardassay.Journal;
using Google.Protobuf;

namespace Cardassay.Agent.Delivery;

/// <summary>
/// Tests of this board's slots, kept in one file as they are sent. A new file is on the disk before it takes the old one's place; one that
/// is damaged or lost only means that the board measures one card at a time.
/// </summary>
internal static class SlotPairs
{
    /// <summary>More are not sent, the newest first.</summary>
    internal const int Most = 16;

    /// <summary>The tests kept, each with why it holds no more where that is so.</summary>
    internal static IReadOnlyList<V1.SlotPair> Read(AgentFolder folder, SysfsTree tree)
    {
        V1.SlotPair[] kept = Load(folder.SlotPairs);
        string kernel = kept.Length > 0 ? BoardFacts.Read(tree).KernelRelease.Value ?? "" : "";
        foreach (V1.SlotPair pair in kept)
        {
            pair.Outdated = WhyOutdated(pair, kernel, tree) ?? "";
        }

        return kept;
    }

    /// <summary>Keeps a test in place of earlier ones of the same two slots.</summary>
    /// <exception cref="IOException">It could not be kept.</exception>
    internal static void Keep(AgentFolder folder, V1.SlotPair pair)
    {
        var all = new V1.Presence();
        all.SlotPairs.AddRange(Load(folder.SlotPairs).Where(old => !AreSame(old, pair)).Prepend(pair).Take(Most));
        Directory.CreateDirectory(folder.Path);
        KeptFile.Write(folder.SlotPairs, all.ToByteArray());
    }

    /// <summary>
    /// The slot a disk is in: its folder below /sys/devices up to the host, which stays when the card or the start changes; in a reader
    /// with several slots with the number of the slot. Null when the disk is not there.
    /// </summary>
    internal static string? PlaceOf(SysfsTree tree, string disk)
    {
        if (tree.RealPath($"sys/block/{disk}") is not { } path)
        {
            return null;
        }

        string[] parts = path.Split('/');
        int host = Array.FindIndex(parts,
            part => part == "mmc_host" || (part.StartsWith("host", StringComparison.Ordinal) && int.TryParse(part.AsSpan(4), out _)));
        string lun = parts.Select(part => part.Split(':')).FirstOrDefault(
            numbers => numbers.Length == 4 && numbers.All(n => int.TryParse(n, out _)))?[^1] is { } number ? $" slot {number}" : "";
        return host < 0 ? path : string.Join('/', parts[..host]) + lun;
    }

    private static string? WhyOutdated(V1.SlotPair pair, string kernel, SysfsTree tree)
    {
        if (kernel != pair.KernelRelease)
        {
            return $"It was made under kernel {pair.KernelRelease}, and this is {(kernel.Length > 0 ? kernel : "not known")}; test again.";
        }

        foreach ((string disk, string place) in ((string, string)[])[(pair.DiskName, pair.Place), (pair.OtherDiskName, pair.OtherPlace)])
        {
            if (PlaceOf(tree, disk) is { } now && now != place)
            {
                return $"{disk} is another slot than the one that was tested; test again.";
            }
        }

        return null;
    }

    private static bool AreSame(V1.SlotPair a, V1.SlotPair b) =>
        (a.DiskName == b.DiskName && a.OtherDiskName == b.OtherDiskName)
            || (a.DiskName == b.OtherDiskName && a.OtherDiskName == b.DiskName);

    private static V1.SlotPair[] Load(string path)
    {
        try
        {
            return File.Exists(path) ? [.. V1.Presence.Parser.ParseFrom(File.ReadAllBytes(path)).SlotPairs] : [];
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or InvalidProtocolBufferException)
        {
            return [];
        }
    }
}
