using System.Diagnostics;
using System.Globalization;
using Cardassay.Agent.Sysfs;
using Cardassay.Agent.Tests.Sysfs;

namespace Cardassay.Cards.Tests;

/// <summary>
/// A served card as the kernel shows one in a slot: the registers are those of a public SDXC card in a made-up sysfs, the device is the loop
/// device with its own number, size and counters.
/// </summary>
internal sealed class SlottedCard : IDisposable
{
    private const string Registers = "sys/devices/platform/soc/fe340000.mmc/mmc_host/mmc1/mmc1:59b4";
    private const string Disk = Registers + "/block/mmcblk1";

    private readonly ServedCard _card;
    private readonly FixtureTree _fixture = FixtureTree.Expand("board-b-6.6-sdxc");

    /// <summary>Serves a card in slot "mmcblk1".</summary>
    /// <param name="traits">Words of card.c.</param>
    public SlottedCard(string traits)
    {
        _card = new ServedCard(traits);
        string loop = "/sys/block/" + Path.GetFileName(_card.DevicePath);
        string number = File.ReadAllText(loop + "/dev").Trim();
        _fixture.Remove($"{Disk}/mmcblk1p1").Remove("sys/class/block/mmcblk1p1").Remove("sys/dev/block/179:0").Remove($"{Disk}/stat");
        foreach (string name in Directory.GetFileSystemEntries(Path.Combine(_fixture.Root, "sys/dev/block")).Where(n => n.Contains("179:", StringComparison.Ordinal)))
        {
            File.Delete(name);
        }

        _fixture.Text($"{Disk}/dev", number).Text($"{Disk}/size", File.ReadAllText(loop + "/size").Trim())
            .Link($"{Disk}/stat", loop + "/stat").Link($"sys/dev/block/{number}", "../../" + Disk["sys/".Length..]);
        if (File.Exists(loop + "/diskseq"))
        {
            _fixture.Text($"{Disk}/diskseq", File.ReadAllText(loop + "/diskseq").Trim());
        }
        else
        {
            _fixture.Remove($"{Disk}/diskseq");
        }

        string node = Path.Combine(_fixture.Root, "dev", "mmcblk1");
        Directory.CreateDirectory(Path.GetDirectoryName(node)!);
        string[] numbers = number.Split(':');
        File.Delete(node);
        using Process mknod = Process.Start("mknod", [node, "b", numbers[0], numbers[1]]);
        mknod.WaitForExit();
    }

    /// <summary>What the agent sees.</summary>
    public SysfsTree Tree => _fixture.Tree;

    /// <summary>SD Status with a counter in the bits that are the maker's own (311:0; SD Physical Layer Simplified Specification 4.10, 4.10.2).</summary>
    public void Count(int value)
    {
        string status = Path.Combine(_fixture.Root, Registers, "ssr");
        string text = File.ReadAllText(status).Trim();
        File.WriteAllText(status + ".new", string.Create(CultureInfo.InvariantCulture, $"{text[..^8]}{value:x8}\n"));
        File.Move(status + ".new", status, overwrite: true);
    }

    /// <summary>The registers can no longer be read.</summary>
    public void HideRegisters() => _fixture.Remove($"{Registers}/cid");

    public void Dispose()
    {
        _card.Dispose();
        _fixture.Dispose();
    }
}
