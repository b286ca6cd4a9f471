using System.Globalization;
using System.Text.Json.Nodes;
using Cardassay.EmulatedBoard.Harness;

namespace Cardassay.EmulatedBoard.Registers;

/// <summary>`identify` of the native agent on the real kernel.</summary>
[Collection(RegisterBoard.Name)]
public sealed class IdentifyTests(RegisterGuest board)
{
    /// <summary>Names of the vectors.</summary>
    public static TheoryData<string> VectorNames => [.. PresentedVector.All.Select(vector => vector.Name)];

    [SkippableFact]
    public async Task Identify_OfEmulatedCards_AgreesWithTheKernel()
    {
        Guest guest = await board.ObtainAsync();
        string[] disks = [.. RegisterGuest.CardBytes.Keys];
        ShownRegisters shown = new(await guest.RunAsync("registers", disks));

        foreach (string disk in disks)
        {
            JsonNode page = JsonNode.Parse(await guest.RunAsync("identify", disk))!;
            JsonNode card = page["card"]!;

            Assert.Equal(EmulatedIdentity.Text, Text(page["identity"]));
            Assert.Equal("SD", Text(page["type"]));
            foreach (string register in new[] { "cid", "csd", "scr" })
            {
                Assert.Equal("known", Text(page["registers"]![register]!["state"]));
                Assert.Equal(shown[disk, register], Text(page["registers"]![register]!["text"]));
            }

            Assert.Equal(shown[disk, "name"], Text(card["productName"]));
            Assert.Equal(shown[disk, "serial"], Text(card["serialNumber"]));
            Assert.Equal("2006-02", Text(card["manufactured"]));
            Assert.Equal(512 * long.Parse(shown[disk, "size"], CultureInfo.InvariantCulture), card["capacityBytes"].AsLong());
            Assert.Equal("notAvailable", Text(page["checks"]!["cidCrc"]));
        }
    }

    [SkippableTheory]
    [MemberData(nameof(VectorNames))]
    public async Task Identify_OfRealCardsRegisters_SaysWhatTheReadOutSays(string name)
    {
        PresentedVector vector = PresentedVector.All.Single(v => v.Name == name);
        Guest guest = await board.ObtainAsync();
        await guest.RunAsync("present", ["mmcblk0", .. vector.Files]);
        JsonNode page;
        try
        {
            page = JsonNode.Parse(await guest.RunAsync("identify", "mmcblk0"))!;
        }
        finally
        {
            await guest.RunAsync("unpresent", "mmcblk0");
        }

        JsonNode card = page["card"]!;
        Assert.Equal(vector.Cid, Text(page["registers"]!["cid"]!["text"]));
        Assert.Equal(vector.Csd, Text(page["registers"]!["csd"]!["text"]));
        Assert.Equal(vector.ProductName, Text(card["productName"]));
        Assert.Equal(vector.SerialNumber, Text(card["serialNumber"]));
        Assert.Equal(vector.Manufactured, Text(card["manufactured"]));
        Assert.Equal(vector.CapacityBytes, card["capacityBytes"].AsLong());
        Assert.Equal(vector.CidCrc, Text(page["checks"]!["cidCrc"]));
        Assert.DoesNotContain(page["findings"]!.AsArray(), finding => Text(finding!["severity"]) != "note");
    }

    private static string? Text(JsonNode? node) => node?.GetValue<string>();
}
