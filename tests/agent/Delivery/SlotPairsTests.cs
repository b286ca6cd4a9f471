using Cardassay.Agent.Delivery;
using Cardassay.Agent.Tests.Sysfs;

namespace Cardassay.Agent.Tests.Delivery;

public sealed class SlotPairsTests : IDisposable
{
    private const string Disk = "sys/devices/platform/soc/fe340000.mmc/mmc_host/mmc1/mmc1:59b4/block/mmcblk1";
    private readonly DirectoryInfo _directory = Directory.CreateTempSubdirectory("cardassay-pairs-");
    private readonly FixtureTree _fixture = FixtureTree.Expand("board-b-6.6-sdxc");

    private AgentFolder Folder => new(_directory.FullName);

    public void Dispose()
    {
        _fixture.Dispose();
        _directory.Delete(recursive: true);
    }

    [Fact]
    public void PlaceOf_CardInASlot_IsThatOfItsHost() => Assert.Equal("sys/devices/platform/soc/fe340000.mmc", SlotPairs.PlaceOf(_fixture.Tree, "mmcblk1"));

    /// <summary>A reader with several slots is one device of which each slot is a unit; host numbers change whenever it is put in.</summary>
    [Fact]
    public void PlaceOf_SlotOfAReader_IsItsUnit()
    {
        const string port = "sys/devices/platform/soc/usb1/1-1/1-1:1.0";
        foreach ((string disk, string host, int unit) in ((string, string, int)[])[("sdb", "host0", 1), ("sdc", "host7", 1), ("sdd", "host7", 2)])
        {
            string number = host[4..];
            string folder = $"{port}/{host}/target{number}:0:0/{number}:0:0:{unit}/block/{disk}";
            _fixture.Text($"{folder}/size", "8").Link($"sys/block/{disk}", "../" + folder["sys/".Length..]);
        }

        Assert.Equal($"{port} slot 1", SlotPairs.PlaceOf(_fixture.Tree, "sdb"));
        Assert.Equal($"{port} slot 1", SlotPairs.PlaceOf(_fixture.Tree, "sdc"));
        Assert.Equal($"{port} slot 2", SlotPairs.PlaceOf(_fixture.Tree, "sdd"));
        Assert.Null(SlotPairs.PlaceOf(_fixture.Tree, "sde"));
    }

    [Fact]
    public void Read_SameKernelAndSlots_Holds_AlsoWithoutACard()
    {
        SlotPairs.Keep(Folder, Pair());
        Assert.Equal("", Assert.Single(SlotPairs.Read(Folder, _fixture.Tree)).Outdated);
    }

    [Fact]
    public void Read_AnotherKernel_HoldsNoMore()
    {
        SlotPairs.Keep(Folder, Pair());
        _fixture.Text("proc/sys/kernel/osrelease", "9.9.9");
        Assert.Contains("this is 9.9.9; test again", Assert.Single(SlotPairs.Read(Folder, _fixture.Tree)).Outdated, StringComparison.Ordinal);
    }

    [Fact]
    public void Read_AnotherSlotUnderTheName_HoldsNoMore()
    {
        V1.SlotPair pair = Pair();
        pair.Place = "sys/devices/platform/soc/fe999999.mmc";
        SlotPairs.Keep(Folder, pair);
        Assert.Equal("mmcblk1 is another slot than the one that was tested; test again.", Assert.Single(SlotPairs.Read(Folder, _fixture.Tree)).Outdated);
    }

    [Fact]
    public void Keep_SameSlotsAgain_TakesThePlaceOfTheOldTest()
    {
        SlotPairs.Keep(Folder, Pair());
        V1.SlotPair other = Pair();
        (other.DiskName, other.Place, other.OtherDiskName, other.OtherPlace) = ("mmcblk2", "elsewhere", "mmcblk1", Pair().Place);
        other.AgentVersion = "newer";
        SlotPairs.Keep(Folder, other);
        Assert.Equal("newer", Assert.Single(SlotPairs.Read(Folder, _fixture.Tree)).AgentVersion);
        for (int i = 0; i < 2 * SlotPairs.Most; i++)
        {
            V1.SlotPair more = Pair();
            more.OtherDiskName = $"sd{i}";
            SlotPairs.Keep(Folder, more);
        }

        Assert.Equal(SlotPairs.Most, SlotPairs.Read(Folder, _fixture.Tree).Count);
    }

    [Fact]
    public void Read_FileIsDamaged_MeansNoTest()
    {
        SlotPairs.Keep(Folder, Pair());
        byte[] whole = File.ReadAllBytes(Folder.SlotPairs);
        for (int length = 0; length < whole.Length; length++)
        {
            File.WriteAllBytes(Folder.SlotPairs, whole[..length]);
            _ = SlotPairs.Read(Folder, _fixture.Tree);
        }

        File.WriteAllBytes(Folder.SlotPairs, [0xff, 0xff, 0xff]);
        Assert.Empty(SlotPairs.Read(Folder, _fixture.Tree));
        File.Delete(Folder.SlotPairs);
        Assert.Empty(SlotPairs.Read(Folder, _fixture.Tree));
    }

    /// <summary>Of the slot of the fixture and one that is empty.</summary>
    private V1.SlotPair Pair() => new()
    {
        DiskName = "mmcblk1", Place = SlotPairs.PlaceOf(_fixture.Tree, "mmcblk1"), OtherDiskName = "mmcblk2", OtherPlace = "elsewhere",
        KernelRelease = Cardassay.Agent.Conditions.BoardFacts.Read(_fixture.Tree).KernelRelease.Value!,
    };
}
