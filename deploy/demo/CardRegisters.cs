using System.Globalization;
using System.Text;
using Cardassay.Registers;

namespace Cardassay.Demo;

/// <summary>The register files of a card as the kernel shows them below `/sys/block/NAME/device/`.</summary>
internal static class CardRegisters
{
    /// <summary>Every file, by name.</summary>
    public static IReadOnlyDictionary<string, Reading<string>> Files(Card card)
    {
        Silicon inside = card.Silicon;
        var files = new Dictionary<string, string>
        {
            ["cid"] = Cid(card),
            ["csd"] = Csd(inside),
            ["scr"] = Scr(inside),
            ["ssr"] = Ssr(inside),
            ["date"] = Text($"{card.Made.Month:D2}/{card.Made.Year:D4}"),
            ["name"] = inside.Name,
            ["serial"] = Text($"0x{card.Serial:x8}"),
            ["manfid"] = Text($"0x{inside.ManufacturerId:x6}"),
            ["oemid"] = "0x" + Convert.ToHexStringLower(Encoding.ASCII.GetBytes(inside.OemId)),
            ["hwrev"] = Text($"0x{inside.Revision >> 4:x}"),
            ["fwrev"] = Text($"0x{inside.Revision & 0xF:x}"),
            ["type"] = "SD",
            ["erase_size"] = "512",
            ["preferred_erase_size"] = "4194304",
            ["ocr"] = "0x00300000",
            ["rca"] = Text($"0x{0x1000 + (card.Serial & 0xFFF):x4}"),
            ["dsr"] = "0x404",
        };
        return files.ToDictionary(f => f.Key, f => Reading<string>.Known(f.Value), StringComparer.Ordinal);
    }

    /// <summary>CID (SD Part 1 Physical Layer 4.10, 5.2).</summary>
    public static string Cid(Card card)
    {
        byte[] bytes = new byte[16];
        Silicon inside = card.Silicon;
        bytes[0] = inside.ManufacturerId;
        Encoding.ASCII.GetBytes(inside.OemId, bytes.AsSpan(1, 2));
        Encoding.ASCII.GetBytes(inside.Name, bytes.AsSpan(3, 5));
        bytes[8] = inside.Revision;
        System.Buffers.Binary.BinaryPrimitives.WriteUInt32BigEndian(bytes.AsSpan(9, 4), card.Serial);
        int date = ((card.Made.Year - 2000) << 4) | card.Made.Month;
        bytes[13] = (byte)(date >> 8);
        bytes[14] = (byte)date;
        return Sealed(bytes);
    }

    /// <summary>CSD version 2 (5.3.3): everything but C_SIZE is fixed.</summary>
    public static string Csd(Silicon inside) =>
        Sealed([.. Convert.FromHexString(Text($"400e00325b5900{inside.CSize:x6}7f800a4000")), 0]);

    /// <summary>SCR (5.6): SD_SPEC 2, SD_SPEC3 1, content 0 after erase, security of the family, bus widths 1 and 4.</summary>
    public static string Scr(Silicon inside)
    {
        int security = inside.ExtendedCapacity ? 4 : 3;
        int version = 0x80 | (inside.SpecX >= 2 ? 0x04 : 0) | (inside.SpecX >> 2);
        int commands = ((inside.SpecX & 3) << 6) | inside.CommandSupport;
        return Text($"02{security:x}5{version:x2}{commands:x2}00000000");
    }

    /// <summary>SD status (4.10.2): class 10, AU of 4 MiB, and the marks the silicon declares.</summary>
    public static string Ssr(Silicon inside)
    {
        byte[] bytes = new byte[64];
        bytes[4] = (byte)(inside.ExtendedCapacity ? 0x08 : 0x04); // protected area 128 or 64 MiB
        bytes[8] = 4;                                             // SPEED_CLASS: class 10
        bytes[10] = 0x90;                                         // AU_SIZE: 4 MiB
        bytes[12] = 0x0F;                                         // ERASE_SIZE: 15 AUs
        bytes[13] = 0x05;                                         // ERASE_TIMEOUT 1 s, ERASE_OFFSET 1 s
        bytes[14] = (byte)(inside.UhsGrade == 0 ? 0 : (inside.UhsGrade << 4) | 0xA); // UHS_AU_SIZE: 8 MiB
        bytes[15] = (byte)inside.VideoClass;
        bytes[17] = (byte)(inside.VideoClass == 0 ? 0 : 8);       // VSC_AU_SIZE: 8 MB
        bytes[21] = (byte)inside.AppClass;
        if (inside.AppClass == 2)
        {
            bytes[22] = 0xFF;                                     // command queue of 32, cache, maintenance
            bytes[24] = 0x03;                                     // discard, full user area logical erase
        }

        return Convert.ToHexStringLower(bytes);
    }

    private static string Sealed(byte[] register)
    {
        register[15] = (byte)((Crc7(register.AsSpan(0, 15)) << 1) | 1);
        return Convert.ToHexStringLower(register);
    }

    // x^7 + x^3 + 1, start 0, most significant bit first (4.5).
    private static int Crc7(ReadOnlySpan<byte> bytes)
    {
        int crc = 0;
        foreach (byte value in bytes)
        {
            for (int bit = 7; bit >= 0; bit--)
            {
                int top = ((crc >> 6) ^ (value >> bit)) & 1;
                crc = ((crc << 1) & 0x7F) ^ (top * 0x09);
            }
        }

        return crc;
    }

    private static string Text(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
