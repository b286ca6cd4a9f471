using System.Globalization;
using Cardassay.EmulatedBoard.Harness;

namespace Cardassay.EmulatedBoard.Registers;

/// <summary>The registers of emulated cards as a real kernel shows them, against the emulator's own source.</summary>
[Collection(RegisterBoard.Name)]
public sealed class KernelShowsRegistersTests(RegisterGuest board)
{
    // Source: hw/sd/sd.c of the emulator. Its CRC bytes are 03 and 85; the SDHCI host driver strips them
    // (sdhci_read_rsp_136 in Linux 6.1 drivers/mmc/host/sdhci.c), so that the kernel shows 00.
    private const string Csd8GiB = "400e00325b5900003fff7f800a400000";

    // TRAN_SPEED of a version 1 card is 5A in older releases of the emulator and 32 in newer ones.
    private static readonly string[] Csd64MiB = ["0026005a5f59e03fffffdfff92600000", "002600325f59e03fffffdfff92600000"];

    [SkippableFact]
    public async Task Registers_OfEmulatedCards_AreThoseOfTheEmulatorsSource()
    {
        ShownRegisters shown = await ReadAsync();

        foreach (string disk in RegisterGuest.CardBytes.Keys)
        {
            Assert.Equal(EmulatedIdentity.Cid, shown[disk, "cid"]);
            Assert.Equal(new string('0', 128), shown[disk, "ssr"]);
            Assert.Equal("SD", shown[disk, "type"]);
        }

        Assert.Contains(shown["mmcblk0", "csd"], Csd64MiB);
        Assert.Equal(Csd8GiB, shown["mmcblk1", "csd"]);
    }

    [SkippableFact]
    public async Task Size_OfEveryCard_IsThatOfItsMedium()
    {
        ShownRegisters shown = await ReadAsync();

        foreach ((string disk, long bytes) in RegisterGuest.CardBytes)
        {
            Assert.Equal(bytes, 512 * long.Parse(shown[disk, "size"], CultureInfo.InvariantCulture));
        }
    }

    [SkippableTheory]
    [InlineData("mmcblk2", '0')] // 2 GiB: CSD version 1
    [InlineData("mmcblk3", '4')] // 4 GiB: CSD version 2
    public async Task CsdVersion_AroundTwoGiB_Changes(string disk, char firstDigit)
    {
        ShownRegisters shown = await ReadAsync();

        Assert.Equal(firstDigit, shown[disk, "csd"][0]);
    }

    private async Task<ShownRegisters> ReadAsync() =>
        new(await (await board.ObtainAsync()).RunAsync("registers", [.. RegisterGuest.CardBytes.Keys]));
}
