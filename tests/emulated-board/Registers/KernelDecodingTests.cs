using System.Globalization;
using Cardassay.EmulatedBoard.Harness;
using Cardassay.Registers;

namespace Cardassay.EmulatedBoard.Registers;

/// <summary>Our decoders against an independent one: what the guest's kernel makes of the same registers (Linux, drivers/mmc/core/sd.c).</summary>
[Collection(RegisterBoard.Name)]
public sealed class KernelDecodingTests(RegisterGuest board)
{
    [SkippableFact]
    public async Task CidAndCsd_OfEveryCard_DecodeAsTheKernelDecodesThem()
    {
        string[] disks = [.. RegisterGuest.CardBytes.Keys];
        ShownRegisters shown = new(await (await board.ObtainAsync()).RunAsync("registers", disks));

        foreach (string disk in disks)
        {
            Cid cid = Cid.Parse(shown[disk, "cid"]).Value!;
            Csd csd = Csd.Parse(shown[disk, "csd"]).Value!;

            Assert.Equal(shown[disk, "manfid"], Text($"0x{cid.ManufacturerId:x6}"));
            Assert.Equal(shown[disk, "oemid"], Text($"0x{cid.OemId:x4}"));
            Assert.Equal(shown[disk, "name"], cid.ProductName);
            Assert.Equal(shown[disk, "hwrev"], Text($"0x{cid.RevisionMajor:x}"));
            Assert.Equal(shown[disk, "fwrev"], Text($"0x{cid.RevisionMinor:x}"));
            Assert.Equal(shown[disk, "serial"], Text($"0x{cid.SerialNumber:x8}"));
            Assert.Equal(shown[disk, "date"], Text($"{cid.Manufactured.Month:D2}/{cid.Manufactured.Year:D4}"));
            Assert.Equal(512 * long.Parse(shown[disk, "size"], CultureInfo.InvariantCulture), csd.CapacityBytes);
            Assert.Equal(CrcState.NotAvailable, cid.CrcState);
            Assert.Equal(CrcState.NotAvailable, csd.CrcState);
        }
    }

    private static string Text(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
