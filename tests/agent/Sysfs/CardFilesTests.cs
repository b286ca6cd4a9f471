using Cardassay.Agent.Sysfs;
using Cardassay.Registers;

namespace Cardassay.Agent.Tests.Sysfs;

public class CardFilesTests
{
    [Fact]
    public void Read_CardInSlot_HasEveryFileAsTheKernelShowsIt()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-a-6.1-sdhc");
        IReadOnlyDictionary<string, Reading<string>> files = CardFiles.Read(fixture.Tree, "mmcblk0");
        Assert.Equal("035344534331364780ecf4c851011b85", files["cid"].Value);
        Assert.Equal("0235804300000000", files["scr"].Value);
        Assert.Equal(128, files["ssr"].Value!.Length);
        Assert.Equal(("11/2017", "SC16G", "SD"), (files["date"].Value, files["name"].Value, files["type"].Value));
        Assert.False(files.ContainsKey("life_time"));
        Assert.All(files, f => Assert.True(f.Value.IsKnown));
    }

    [Fact]
    public void Read_DamagedFiles_LoseNothingElse()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-e-6.1-damaged");
        IReadOnlyDictionary<string, Reading<string>> files = CardFiles.Read(fixture.Tree, "mmcblk0");
        Assert.Equal("0353445355303847800204968f00c560", files["cid"].Value);
        Assert.Equal(ReadingState.Unreadable, files["scr"].State);
        Assert.Equal(Reading<string>.Known(""), files["ssr"]);
        Assert.Equal(@"\xff\x00\xfe", files["csd"].Value);
        Assert.Equal(@"SU\x000\x1b[2J", files["name"].Value);
        Assert.Equal("0x0204968f", files["serial"].Value);
    }

    [Fact]
    public void Read_SolderedMemory_HasItsHealth()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-c-6.6-emmc");
        IReadOnlyDictionary<string, Reading<string>> files = CardFiles.Read(fixture.Tree, "mmcblk2");
        Assert.Equal(("0x01 0x02", "0x01", "0x6"), (files["life_time"].Value, files["pre_eol_info"].Value, files["rev"].Value));
        Assert.False(files.ContainsKey("scr"));
    }

    [Fact]
    public void Read_UsbReader_HasNoRegistersThoughItsBusHasFilesOfTheSameNames()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-d-6.1-reader");
        Assert.True(fixture.Tree.Exists("sys/block/sda/device/type"));
        Assert.Empty(CardFiles.Read(fixture.Tree, "sda"));
    }

    [Theory]
    [MemberData(nameof(RegisterVectors.All), MemberType = typeof(RegisterVectors))]
    public void Read_EveryVector_ComesBackToTheLetter(RegisterVector vector)
    {
        using FixtureTree fixture = vector.ToTree();
        IReadOnlyDictionary<string, Reading<string>> files = CardFiles.Read(fixture.Tree, "mmcblk0");
        Assert.Equal(vector.Cid, files["cid"].Value);
        Assert.Equal(vector.Csd, files["csd"].Value);
        Assert.Equal(vector.Scr, files.TryGetValue("scr", out Reading<string> scr) ? scr.Value : null);
        Assert.Equal(vector.Ssr, files.TryGetValue("ssr", out Reading<string> ssr) ? ssr.Value : null);
    }
}
