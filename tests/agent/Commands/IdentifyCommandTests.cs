using System.Text.Json;
using Cardassay.Agent.Sysfs;
using Cardassay.Agent.Tests.Sysfs;

namespace Cardassay.Agent.Tests.Commands;

public class IdentifyCommandTests
{
    private static readonly string[] CardKeys =
    [
        "manufacturerId", "oemId", "productName", "productRevision", "serialNumber", "manufactured", "capacityBytes", "family", "csdVersion",
        "specVersion", "speedClass", "uhsGrade", "videoClass", "applicationClass", "allocationUnitBytes", "protectedAreaBytes",
    ];

    [Fact]
    public void Json_SdhcVector_SaysWhatItsSourceStates()
    {
        // The public read-out of vector V5: 31,116,288 sectors, 11/2017, serial 0xecf4c851, preferred_erase_size 4,194,304; its fields
        // by SD Part 1 4.10, 5.2, 5.3, 5.6 and 4.10.2: version 5.XX, C10, U1, A1, AU 4 MiB, protected area 64 MiB.
        using FixtureTree fixture = FixtureTree.Expand("board-a-6.1-sdhc");
        JsonElement json = Json(IdentifyRun.Of(fixture.Root, "/dev/mmcblk0p1", "--json"), exitCode: 0);
        JsonElement card = json.GetProperty("card");
        Assert.Equal("sd-03-5344-SC16G-8.0-ecf4c851-2017-11", json.GetProperty("identity").GetString());
        Assert.Equal("SD", json.GetProperty("type").GetString());
        Assert.Equal(
            ("0x03", "0x5344", "SC16G", "8.0", "0xecf4c851", "2017-11", "SDHC", "5.XX"),
            (Text("manufacturerId"), Text("oemId"), Text("productName"), Text("productRevision"), Text("serialNumber"), Text("manufactured"),
                Text("family"), Text("specVersion")));
        Assert.Equal(
            (31_116_288L * 512, 2L, 10L, 1L, 0L, 1L, 4L << 20, 64L << 20),
            (Number("capacityBytes"), Number("csdVersion"), Number("speedClass"), Number("uhsGrade"), Number("videoClass"), Number("applicationClass"),
                Number("allocationUnitBytes"), Number("protectedAreaBytes")));
        Assert.Equal(("valid", "valid"), Checks(json));

        string? Text(string key) => card.GetProperty(key).GetString();
        long Number(string key) => card.GetProperty(key).GetInt64();
    }

    [Theory]
    [InlineData("board-a-6.1-sdhc", "mmcblk0")]
    [InlineData("board-c-6.6-emmc", "mmcblk2")]
    [InlineData("board-d-6.1-reader", "sda")]
    [InlineData("board-e-6.1-damaged", "mmcblk0")]
    public void Json_AnyBoard_HasEveryKeyWithItsKindOfValue(string fixtureName, string target)
    {
        using FixtureTree fixture = FixtureTree.Expand(fixtureName);
        JsonElement json = Json(IdentifyRun.Of(fixture.Root, target, "--json"), exitCode: 0);
        Assert.Equal(CardKeys, json.GetProperty("card").EnumerateObject().Select(p => p.Name));
        Assert.All(json.GetProperty("card").EnumerateObject(), p => Assert.Contains(
            p.Value.ValueKind, p.Name is "capacityBytes" or "csdVersion" or "speedClass" or "uhsGrade" or "videoClass" or "applicationClass" || p.Name.EndsWith("Bytes", StringComparison.Ordinal)
                ? [JsonValueKind.Number, JsonValueKind.Null]
                : (JsonValueKind[])[JsonValueKind.String, JsonValueKind.Null]));
        Assert.Equal(["cid", "csd", "scr", "ssr"], json.GetProperty("registers").EnumerateObject().Select(p => p.Name));
        Assert.All(json.GetProperty("registers").EnumerateObject(), p =>
            Assert.Equal(p.Value.GetProperty("state").GetString() == "known", p.Value.GetProperty("text").ValueKind == JsonValueKind.String));
        (string cid, string csd) = Checks(json);
        Assert.All([cid, csd], state => Assert.Contains(state, (string[])["valid", "invalid", "notAvailable"]));
        Assert.All(json.GetProperty("findings").EnumerateArray(), f =>
            Assert.Contains(f.GetProperty("severity").GetString(), (string[])["note", "doubt", "contradiction"]));
    }

    // CSD_STRUCTURE 3 is not defined (SD Part 1 4.10, 5.3.1): where the size lies in it is not known, and the disk's size is none the card states.
    [Fact]
    public void Json_UndefinedCsdStructure_StatesNoCapacity()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-a-6.1-sdhc");
        fixture.Text("sys/block/mmcblk0/device/csd", "c00e00325b59000076b27f800a404000");
        JsonElement json = Json(IdentifyRun.Of(fixture.Root, "mmcblk0", "--json", "--claim-gb", "64"), exitCode: 1);
        Assert.Equal(JsonValueKind.Null, json.GetProperty("card").GetProperty("capacityBytes").ValueKind);
        Assert.Equal(31_116_288L * 512, json.GetProperty("disk").GetProperty("bytes").GetInt64());
        Assert.DoesNotContain(json.GetProperty("findings").EnumerateArray(), f => f.GetProperty("id").GetString() == "capacity-against-label");
    }

    [Fact]
    public void Json_MissingUnreadableZeroAndEmpty_StayFourThings()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-a-6.1-sdhc");
        const string device = "sys/block/mmcblk0/device/";
        fixture.Remove(device + "csd").Remove(device + "scr").Bytes(device + "scr/x", []).Text(device + "ssr", new string('0', 128)).Text(device + "cid", "");
        JsonElement registers = Json(IdentifyRun.Of(fixture.Root, "mmcblk0", "--json"), exitCode: 0).GetProperty("registers");
        Assert.Equal(("absent", null, false), Of("csd"));
        Assert.Equal(("unreadable", null, false), Of("scr"));
        Assert.Equal(("known", new string('0', 128), false), Of("ssr"));
        Assert.Equal(("known", "", false), Of("cid"));

        (string?, string?, bool) Of(string name)
        {
            JsonElement register = registers.GetProperty(name);
            return (register.GetProperty("state").GetString(), register.GetProperty("text").GetString(), register.GetProperty("decoded").GetBoolean());
        }
    }

    [Theory]
    [InlineData("035344534331364780ecf4c851011b85", "valid", 0, "checksum valid")]
    [InlineData("035344534331364780ecf4c851011b84", "valid", 0, "checksum valid")]
    [InlineData("035344534331364780ecf4c851011b00", "notAvailable", 0, "checksum not available")]
    [InlineData("035344534331364780ecf4c851011b01", "notAvailable", 0, "checksum not available")]
    [InlineData("035344534331364780ecf4c852011b85", "invalid", 1, "checksum INVALID")]
    public void Checksum_AnyState_IsTheSameOnPageAndInJson(string cid, string state, int exitCode, string words)
    {
        // V5 as read; bit 0 cleared; stripped by the host (00, or 01 on others: Linux 6.1, sdhci_read_rsp_136); one digit changed.
        using FixtureTree fixture = FixtureTree.Expand("board-a-6.1-sdhc");
        fixture.Text("sys/block/mmcblk0/device/cid", cid);
        Assert.Equal(state, Checks(Json(IdentifyRun.Of(fixture.Root, "mmcblk0", "--json"), exitCode)).Cid);
        string page = string.Join(' ', IdentifyRun.Of(fixture.Root, "mmcblk0").Output.Split((char[])[' ', '\n'], StringSplitOptions.RemoveEmptyEntries));
        Assert.Contains("date: read, " + words, page, StringComparison.Ordinal);
    }

    [Fact]
    public void Page_EmmcWithoutItsRevision_SaysThatTheYearIsOpen()
    {
        // The public report of V11: an old kernel printed 05/1997, a corrected one 05/2013.
        using FixtureTree fixture = FixtureTree.Expand("board-c-6.6-emmc");
        Assert.Contains("2013-05 (May 2013)", IdentifyRun.Of(fixture.Root, "mmcblk2").Output, StringComparison.Ordinal);
        fixture.Remove("sys/block/mmcblk2/device/rev");
        Assert.Contains("1997-05 (May 1997), or 16 years later", IdentifyRun.Of(fixture.Root, "mmcblk2").Output, StringComparison.Ordinal);
    }

    [Fact]
    public void Page_UsbReader_NamesTheReaderAndGuessesNothing()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-d-6.1-reader");
        IdentifyRun run = IdentifyRun.Of(fixture.Root, "sda");
        Assert.Equal(0, run.ExitCode);
        Assert.Contains("Registers hidden by the reader", run.Output, StringComparison.Ordinal);
        Assert.Contains("not proven", run.Output, StringComparison.Ordinal);
        string[] guesses = ["SDHC", "SDXC", "Serial number", "Product name", "Speed marks", "checksum valid"];
        Assert.All(guesses, word => Assert.DoesNotContain(word, run.Output, StringComparison.Ordinal));
        Assert.All(
            Json(IdentifyRun.Of(fixture.Root, "sda", "--json"), exitCode: 0).GetProperty("card").EnumerateObject().Where(p => p.Name != "capacityBytes"),
            p => Assert.Equal(JsonValueKind.Null, p.Value.ValueKind));
    }

    [Fact]
    public void Page_UsbReaderWithAnImpossibleClaim_IsAContradiction()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-d-6.1-reader");
        IdentifyRun run = IdentifyRun.Of(fixture.Root, "sda", "--claim-gb", "64");
        Assert.Equal(1, run.ExitCode);
        Assert.Contains("CONTRADICTION (capacity-against-label)", run.Output, StringComparison.Ordinal);
        Assert.Contains("not as claimed", run.Output, StringComparison.Ordinal);
    }

    [Fact]
    public void Page_LoopDeviceOnAFile_IsADiskWithoutRegisters()
    {
        using FixtureTree fixture = new FixtureTree().Text("sys/block/loop7/size", "2097152").Text("sys/block/loop7/loop/backing_file", "/srv/card.img");
        IdentifyRun run = IdentifyRun.Of(fixture.Root, "loop7", "--claim-gb", "1");
        Assert.Equal(0, run.ExitCode);
        Assert.Contains("loop7 is a disk without card registers", run.Output, StringComparison.Ordinal);
        Assert.Contains("noregisters-loop7-1073741824-noserial", run.Output, StringComparison.Ordinal);
        Assert.DoesNotContain("reader passes", run.Output, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("capacity-against-label", "--claim-gb", "64")]
    [InlineData("marks-against-claim", "--claim-marks", "C10 U3")]
    [InlineData("manufactured-after-purchase", "--purchased", "2017-10-31")]
    [InlineData("old-stock", "--purchased", "2026-02-01", "--condition", "new")]
    public void Claim_AgainstTheRegisters_IsFoundAndChangesTheExitCode(string id, params string[] claim)
    {
        using FixtureTree fixture = FixtureTree.Expand("board-a-6.1-sdhc");
        Assert.Equal(0, IdentifyRun.Of(fixture.Root, "mmcblk0").ExitCode);
        JsonElement json = Json(IdentifyRun.Of(fixture.Root, "mmcblk0", ["--json", .. claim]), exitCode: 1);
        Assert.Contains(json.GetProperty("findings").EnumerateArray(), f =>
            f.GetProperty("id").GetString() == id && f.GetProperty("severity").GetString() != "note");
    }

    [Fact]
    public void Claim_AsTheCardStates_FindsNothingAndIsStillNoProof()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-a-6.1-sdhc");
        IdentifyRun run = IdentifyRun.Of(fixture.Root, "mmcblk0", "--claim-gb", "16", "--claim-marks", "c10,u1/A1", "--condition", "used", "--purchased", "2018-01-31");
        Assert.Equal(0, run.ExitCode);
        Assert.Contains("VERDICT, A PREVIEW: not proven", run.Output, StringComparison.Ordinal);
        Assert.Contains("no proof of capacity", run.Output.ReplaceLineEndings(" "), StringComparison.Ordinal);
        Assert.DoesNotContain("genuine", run.Output, StringComparison.OrdinalIgnoreCase);
    }

    [Theory]
    [InlineData(2026, "manufactured-in-future", "note", 0)]
    [InlineData(1970, "manufactured-in-future", "note", 0)]
    public void Clock_ThatCannotBeRight_IsNotUsed(int year, string id, string severity, int exitCode)
    {
        // V7 states November 2019: a board that woke up in 1970 must not doubt it, one with the right day has nothing to say.
        using FixtureTree fixture = FixtureTree.Expand("board-b-6.6-sdxc");
        IdentifyRun run = IdentifyRun.On(new DateTimeOffset(year, 3, 1, 0, 0, 0, TimeSpan.Zero), fixture.Root, "mmcblk1", "--json");
        JsonElement[] found = [.. Json(run, exitCode).GetProperty("findings").EnumerateArray().Where(f => f.GetProperty("id").GetString() == id)];
        Assert.Equal(year == 1970 ? [severity] : [], found.Select(f => f.GetProperty("severity").GetString()!));
        Assert.Equal(year == 1970, IdentifyRun.On(new DateTimeOffset(year, 3, 1, 0, 0, 0, TimeSpan.Zero), fixture.Root, "mmcblk1").Output.Contains("clock says 1970-03-01", StringComparison.Ordinal));
    }

    [Fact]
    public void Clock_BeforeTheDateOfManufacture_IsADoubtThatNamesTheClock()
    {
        // V7 with MDT changed to December 2026: year code 1A, month C (SD Part 1 4.10, 5.2), checksum stripped.
        using FixtureTree fixture = FixtureTree.Expand("board-b-6.6-sdxc");
        fixture.Text("sys/block/mmcblk1/device/cid", "9f5449534436344761369800650" + "1ac01");
        IdentifyRun run = IdentifyRun.Of(fixture.Root, "mmcblk1");
        Assert.Equal(1, run.ExitCode);
        Assert.Contains("DOUBT (manufactured-in-future)", run.Output, StringComparison.Ordinal);
        Assert.Contains("Today is 2026-03-01 by this board's clock", run.Output, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("mmcblk9")]
    [InlineData("/dev/mmcblk9")]
    [InlineData("/tmp")]
    public void Target_NotThere_IsASentenceAndExitCode1(string target)
    {
        using FixtureTree fixture = FixtureTree.Expand("board-a-6.1-sdhc");
        IdentifyRun run = IdentifyRun.Of(fixture.Root, target);
        Assert.Equal((1, ""), (run.ExitCode, run.Output));
        Assert.EndsWith(".", run.Error, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("--claim-gb", "sixty")]
    [InlineData("--claim-gb", "0")]
    [InlineData("--claim-gb", "-5")]
    [InlineData("--claim-gb", "1,5")]
    [InlineData("--claim-marks", "C11")]
    [InlineData("--claim-marks", " ")]
    [InlineData("--claim-maker", "a\u001b[2Jb")]
    [InlineData("--condition", "good")]
    [InlineData("--purchased", "31.1.2026")]
    [InlineData("--tag", " T")]
    public void Option_WithNonsense_IsBadUsageThatNamesIt(string option, string value)
    {
        using FixtureTree fixture = FixtureTree.Expand("board-a-6.1-sdhc");
        IdentifyRun run = IdentifyRun.Of(fixture.Root, "mmcblk0", $"{option}={value}");
        Assert.Equal((2, ""), (run.ExitCode, run.Output));
        Assert.StartsWith(option + ":", run.Error, StringComparison.Ordinal);
    }

    [Fact]
    public void Target_LeftOut_IsBadUsage()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-a-6.1-sdhc");
        Assert.Equal(2, IdentifyRun.On(IdentifyRun.Day, fixture.Root).ExitCode);
    }

    [Fact]
    public void Identity_OnThePage_IsWhatEraseAsksFor()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-e-6.1-damaged");
        string identity = Json(IdentifyRun.Of(fixture.Root, "mmcblk0", "--json"), exitCode: 0).GetProperty("identity").GetString()!;
        Assert.Equal(CardSighting.Take(fixture.Tree, "mmcblk0")!.Identity.Text, identity);
        Assert.Contains(identity, IdentifyRun.Of(fixture.Root, "mmcblk0").Output, StringComparison.Ordinal);
    }

    private static JsonElement Json(IdentifyRun run, int exitCode)
    {
        Assert.Equal((exitCode, null), (run.ExitCode, run.Error));
        using JsonDocument document = JsonDocument.Parse(run.Output);
        return document.RootElement.Clone();
    }

    private static (string Cid, string Csd) Checks(JsonElement json) =>
        (json.GetProperty("checks").GetProperty("cidCrc").GetString()!, json.GetProperty("checks").GetProperty("csdCrc").GetString()!);
}
