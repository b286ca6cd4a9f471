using Cardassay.Agent.Commands;
using Cardassay.Agent.Sysfs;

namespace Cardassay.Agent.Tests.Commands;

/// <summary>What `join` says of a board's slots, from trees laid out as the kernel lays out /sys/class/mmc_host and /proc.</summary>
public sealed class SlotChecksTests : IDisposable
{
    private readonly string _root = Directory.CreateTempSubdirectory("cardassay-slots-").FullName;

    [Fact]
    public void Run_WithoutAHost_NamesTheReader() =>
        AssertOnly(false, "no host for SD cards");

    [Fact]
    public void Run_WithTheSystemInTheOnlySlot_SaysWhatRemains()
    {
        Card("mmc0", "mmcblk0", "179:0");
        Mounts("179:0 / /", "/dev/mmcblk0");
        AssertOnly(false, "the only card, mmcblk0, is the one this system runs from");
        Assert.Contains(SlotChecks.OwnSystem, Run().Single().Sentence, StringComparison.Ordinal);
    }

    [Fact]
    public void Run_WithTheSystemInOneSlotAndNothingInAnother_NamesTheOther()
    {
        Card("mmc0", "mmcblk0", "179:0");
        Write("sys/class/mmc_host/mmc1/uevent", "");
        Mounts("179:0 / /", "/dev/mmcblk0");
        AssertOnly(true, "mmcblk0 holds this system and is left alone; mmc1 shows no card");
    }

    [Fact]
    public void Run_WithARadioAtTheOnlyHost_PromisesNoSlot()
    {
        Write("sys/class/mmc_host/mmc1/mmc1:0001/type", "SDIO\n");
        AssertOnly(false, "soldered flash or a radio");
    }

    [Fact]
    public void Run_WithAFreeCard_SaysWhetherItIsMounted()
    {
        Card("mmc1", "mmcblk1", "179:8");
        JoinCheck[] unmounted = [.. Run()];
        Assert.Equal((true, "slots: mmcblk1 can be tested"), (unmounted[0].Works, unmounted[0].Sentence));
        Assert.False(unmounted[1].Works);
        Assert.Contains("no card in a slot is mounted", unmounted[1].Sentence, StringComparison.Ordinal);

        Mounts("179:8 / /media/card", "/dev/mmcblk1");
        JoinCheck mounted = Run().Last();
        Assert.True(mounted.Works);
        Assert.Contains("/media/card", mounted.Sentence, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(false, "/dev/mmcblk0", "no host for SD cards at all")]
    [InlineData(true, "mmcblk0", "sees no such card at its hosts (mmc0)")]
    [InlineData(true, "/media/card", null)]
    public void WhyNoCard_OfACardInASlot_SaysWhereToLook(bool hasHost, string target, string? text)
    {
        if (hasHost)
        {
            Write("sys/class/mmc_host/mmc0/uevent", "");
        }

        string? why = SlotChecks.WhyNoCard(new SysfsTree(_root), target);
        Assert.Equal(text is null, why is null);
        Assert.Contains(text ?? "", why ?? "", StringComparison.Ordinal);
    }

    public void Dispose() => Directory.Delete(_root, recursive: true);

    private IEnumerable<JoinCheck> Run() => SlotChecks.Run(new SysfsTree(_root));

    private void AssertOnly(bool works, string text)
    {
        JoinCheck check = Assert.Single(Run());
        Assert.Equal(works, check.Works);
        Assert.StartsWith("slots: ", check.Sentence, StringComparison.Ordinal);
        Assert.Contains(text, check.Sentence, StringComparison.Ordinal);
    }

    private void Card(string host, string disk, string number)
    {
        Write($"sys/class/mmc_host/{host}/{host}:0001/type", "SD\n");
        Write($"sys/block/{disk}/device/type", "SD\n");
        Write($"sys/block/{disk}/dev", number + "\n");
        Write($"sys/block/{disk}/size", "1024\n");
    }

    /// <summary>mountinfo (kernel: Documentation/filesystems/proc.rst, 3.5), for this process and the first one.</summary>
    private void Mounts(string numberRootPoint, string source)
    {
        string line = $"30 1 {numberRootPoint} rw,relatime shared:1 - ext4 {source} rw\n";
        Write("proc/self/mountinfo", line);
        Write("proc/1/mountinfo", line);
    }

    private void Write(string path, string text)
    {
        string file = Path.Combine(_root, path);
        Directory.CreateDirectory(Path.GetDirectoryName(file)!);
        File.WriteAllText(file, text);
    }
}
