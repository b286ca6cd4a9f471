using System.Globalization;
using System.Text.Json;
using Cardassay.EmulatedBoard.Harness;

namespace Cardassay.EmulatedBoard.Faults;

/// <summary>
/// Cards whose own registers lie, proven by the published agent through the real card driver; and a disk of which the kernel itself
/// says that part of it cannot be read.
/// </summary>
public sealed class ProofTests(FaultGuest board) : IClassFixture<FaultGuest>
{
    /// <summary>
    /// The large card takes minutes (600 MB in two rounds and some thousand single blocks, at 14 MB/s): it is proven with CARDASSAY_FULL=1. A card that
    /// drops what it cannot keep is proven in WholeNightTests.
    /// </summary>
    [SkippableFact]
    public async Task Prove_CardWithLyingRegisters_GivesItsTrueSize()
    {
        (string disk, long claimed, long kept) = Environment.GetEnvironmentVariable("CARDASSAY_FULL") == "1"
            ? ("mmcblk0", FaultGuest.ClaimedBytes, FaultGuest.TrueBytes)
            : ("mmcblk4", FaultGuest.SmallClaimedBytes, FaultGuest.SmallTrueBytes);
        JsonElement proof = await ProveAsync(disk, found: true);

        Assert.Equal(claimed, proof.GetProperty("claimedBytes").GetInt64());
        Assert.Equal("wrap", proof.GetProperty("kind").GetString());
        Assert.Equal(kept, proof.GetProperty("trueBytes").GetInt64()); // known to the sector
        JsonElement last = proof.GetProperty("ranges").EnumerateArray().Last();
        Assert.Equal(("wrapped", claimed), (last.GetProperty("state").GetString(), last.GetProperty("endBytes").GetInt64()));
    }

    [SkippableFact]
    public async Task Prove_HonestCardInFull_FindsNothing()
    {
        JsonElement proof = await ProveAsync("mmcblk2", found: false, "--full");

        Assert.Equal("noneFound", proof.GetProperty("kind").GetString());
        Assert.Equal(JsonValueKind.Null, proof.GetProperty("trueBytes").ValueKind);
        Assert.Equal(FaultGuest.SmallBytes / 4096, proof.GetProperty("blocksRead").GetInt64());
    }

    [SkippableFact]
    public async Task Prove_DiskThatRefusesEveryAccessToARange_DoesNotJudgeIt()
    {
        // dm-error refuses writes too (Documentation/admin-guide/device-mapper), so that nothing was ever there to be read back.
        Guest guest = await board.ObtainAsync();
        await guest.RunAsync("broken-range", "torn", "mmcblk2", "16384", "8");
        JsonElement proof = await ProveAsync("mapper/torn", found: true, "--full");
        await guest.RunAsync("unmap", "torn");

        Assert.Equal("notJudged", proof.GetProperty("kind").GetString());
        JsonElement broken = Assert.Single(proof.GetProperty("ranges").EnumerateArray(), r => r.GetProperty("state").GetString() == "notJudged");
        Assert.Equal((16384L * 512, 16392L * 512), (broken.GetProperty("startBytes").GetInt64(), broken.GetProperty("endBytes").GetInt64()));
    }

    // Outside check: the kernel's own device-mapper targets, Documentation/admin-guide/device-mapper/zero.rst and dm-flakey.rst.
    [SkippableTheory]
    [InlineData("zero", "constant")]
    [InlineData("flakey", "dropped")]
    public async Task Prove_DiskWhoseTopKeepsNothing_GivesItsTrueSize(string target, string beyond)
    {
        const long KeptSectors = 19_448;
        Guest guest = await board.ObtainAsync();

        // What an older proof wrote is what a dropped write leaves to be read, and it must not pass for the new one.
        await ProveAsync("mmcblk2", found: false, "--full", "--from-start");
        await guest.RunAsync("false-top", target, "mmcblk2", KeptSectors.ToString(CultureInfo.InvariantCulture), target);
        JsonElement proof = await ProveAsync("mapper/" + target, found: true, "--full", "--from-start");
        await guest.RunAsync("unmap", target);
        Assert.Equal(("drop", KeptSectors * 512), (proof.GetProperty("kind").GetString(), proof.GetProperty("trueBytes").GetInt64()));
        JsonElement last = proof.GetProperty("ranges").EnumerateArray().Last();
        Assert.Equal(beyond, last.GetProperty("state").GetString());
    }

    private async Task<JsonElement> ProveAsync(string device, bool found, params string[] options)
    {
        Guest guest = await board.ObtainAsync();
        using var identified = JsonDocument.Parse(await guest.RunAsync("identify", device));
        string identity = identified.RootElement.GetProperty("identity").GetString()!;
        Scenario scenario = await guest.BeginAsync("prove", [device, identity, .. options]);
        string printed = await scenario.SucceedAsync();
        string ended = string.Create(CultureInfo.InvariantCulture, $"ended with {(found ? 1 : 0)}\n");
        Assert.EndsWith(ended, printed, StringComparison.Ordinal);
        using var proof = JsonDocument.Parse(printed[..^ended.Length]);
        return proof.RootElement.Clone();
    }
}
