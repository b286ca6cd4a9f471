using System.Globalization;
using System.Text;
using Cardassay.Agent.Sysfs;
using Cardassay.Registers;
using Cardassay.Trials;

namespace Cardassay.Agent.Tests.Sysfs;

public class CardSightingTests
{
    [Theory]
    [InlineData("board-a-6.1-sdhc", "mmcblk0")]
    [InlineData("board-b-6.6-sdxc", "mmcblk1")]
    [InlineData("board-c-6.6-emmc", "mmcblk2")]
    [InlineData("board-d-5.10-bare", "mmcblk0")]
    [InlineData("board-d-6.1-reader", "sda")]
    [InlineData("board-e-6.1-damaged", "mmcblk0")]
    public void Take_FixtureTree_GivesTheGoldenObservation(string fixtureName, string disk)
    {
        using FixtureTree fixture = FixtureTree.Expand(fixtureName);
        CardSighting sighting = CardSighting.Take(fixture.Tree, disk)!;
        string actual = Render(sighting.ToObservation(default), sighting.Remark);
        string golden = Path.Combine(FixtureTree.FixtureFolder, "golden", fixtureName + ".txt");
        if (Environment.GetEnvironmentVariable("CARDASSAY_UPDATE_GOLDEN") == "1")
        {
            Directory.CreateDirectory(Path.GetDirectoryName(golden)!);
            File.WriteAllText(golden, actual);
        }

        Assert.Equal(File.ReadAllText(golden), actual);
    }

    [Theory]
    [MemberData(nameof(RegisterVectors.All), MemberType = typeof(RegisterVectors))]
    public void Take_EveryVector_IsRecognisedByItsRegisters(RegisterVector vector)
    {
        using FixtureTree fixture = vector.ToTree();
        CardSighting sighting = CardSighting.Take(fixture.Tree, "mmcblk0")!;
        Assert.True(sighting.Identity.FromRegisters);
        // The serial number as the kernel of the read-out printed it.
        Assert.Contains(vector.Serial[2..], sighting.Identity.Text, StringComparison.Ordinal);
        Assert.DoesNotContain(sighting.Identity.Text, char.IsWhiteSpace);
        Assert.Equal(vector.SizeBytes, sighting.DiskBytes);
        Assert.Null(sighting.Remark);
    }

    [Fact]
    public void Take_UsbReader_SaysThatTheReaderHidesTheRegisters()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-d-6.1-reader");
        CardSighting sighting = CardSighting.Take(fixture.Tree, "sda")!;
        Assert.Equal("noregisters-sda-31914983424-000000009744", sighting.Identity.Text);
        Assert.Contains("hidden by the reader", sighting.Remark, StringComparison.Ordinal);
        Assert.Equal(Attachment.Reader, sighting.Attachment);
    }

    [Fact]
    public void WhatChanged_SameCard_IsNull()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-b-6.6-sdxc");
        Assert.Null(Watch(fixture).WhatChanged());
    }

    [Fact]
    public void WhatChanged_CardPulled_SaysItIsGone()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-b-6.6-sdxc");
        CardWatch watch = Watch(fixture);
        fixture.Remove("sys/block/mmcblk1").Remove("sys/class/block/mmcblk1");
        Assert.Contains("gone", watch.WhatChanged(), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("diskseq", "15", "put in again")]
    [InlineData("size", "121634815", "size")]
    [InlineData("size", "0", "gone")]
    [InlineData("device/cid", "9f544953443634476136980066013b7e", "another card")]
    public void WhatChanged_OneThingDiffers_NamesIt(string file, string text, string expected)
    {
        using FixtureTree fixture = FixtureTree.Expand("board-b-6.6-sdxc");
        CardWatch watch = Watch(fixture);
        fixture.Text("sys/block/mmcblk1/" + file, text);
        Assert.Contains(expected, watch.WhatChanged(), StringComparison.Ordinal);
    }

    [Fact]
    public void WhatChanged_RegistersUnreadable_SaysSo()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-b-6.6-sdxc");
        CardWatch watch = Watch(fixture);
        fixture.Remove("sys/block/mmcblk1/device/cid");
        Assert.Contains("no longer be read", watch.WhatChanged(), StringComparison.Ordinal);
    }

    private static CardWatch Watch(FixtureTree fixture) => new(fixture.Tree, CardSighting.Take(fixture.Tree, "mmcblk1")!);

    private static string Render(CardIdentified card, string? remark)
    {
        var text = new StringBuilder();
        text.Append(CultureInfo.InvariantCulture, $"identity {card.Identity}\nfrom registers {card.IdentityFromRegisters}\n")
            .Append(CultureInfo.InvariantCulture, $"disk {card.DiskName}\nbytes {card.DiskBytes}\nattachment {card.Attachment}\n")
            .Append(CultureInfo.InvariantCulture, $"remark {remark ?? "none"}\n");
        foreach ((string name, Reading<string> reading) in card.Files)
        {
            text.Append(CultureInfo.InvariantCulture, $"{name}: {reading.State} {(reading.IsKnown ? $"\"{reading.Value}\"" : reading.Reason)}\n");
        }

        return text.ToString();
    }
}
