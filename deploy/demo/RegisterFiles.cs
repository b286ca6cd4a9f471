using System.Buffers.Binary;
using System.Globalization;
using System.Text;
using Cardassay.Registers;

namespace Cardassay.Demo;

/// <summary>The register files of a card as the kernel shows them below `/sys/block/NAME/device/`.</summary>
internal static class RegisterFiles
{
    /// <summary>Every file, by name.</summary>
    public static IReadOnlyDictionary<string, Reading<string>> Of(Card card)
    {
        Silicon inside = card.Silicon;
        var files = new Dictionary<string, string>
        {
            ["cid"] = CidOf(card).Encode(),
            ["csd"] = CsdOf(inside).Encode(),
            ["scr"] = ScrOf(inside).Encode(),
            ["ssr"] = StatusOf(inside).Encode(),
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

    /// <summary>CID with its checksum.</summary>
    public static Cid CidOf(Card card)
    {
        Silicon inside = card.Silicon;
        var cid = new Cid
        {
            ManufacturerId = inside.ManufacturerId,
            OemId = BinaryPrimitives.ReadInt16BigEndian(Encoding.ASCII.GetBytes(inside.OemId)),
            ProductNameBits = BinaryPrimitives.ReadUInt64BigEndian([0, 0, 0, .. Encoding.ASCII.GetBytes(inside.Name)]),
            RevisionMajor = inside.Revision >> 4,
            RevisionMinor = inside.Revision & 0xF,
            SerialNumber = card.Serial,
            ManufactureYearCode = card.Made.Year - 2000,
            ManufactureMonth = card.Made.Month,
            StopBit = true,
        };
        return cid with { Crc = Crc7.Of(cid.Bits.Bytes[..15]) };
    }

    /// <summary>CSD version 2 with its checksum: everything but the size is fixed by the standard (SD Part 1 Physical Layer 4.10, 5.3.3).</summary>
    public static Csd CsdOf(Silicon inside)
    {
        var csd = new Csd
        {
            Structure = 1,
            Taac = 0x0E,
            TransferRate = 0x32,
            CommandClasses = 0x5B5,
            ReadBlockLength = 9,
            DeviceSize = inside.CSize,
            EraseSingleBlock = true,
            EraseSectorSize = 0x7F,
            ReadToWriteFactor = 2,
            WriteBlockLength = 9,
            StopBit = true,
        };
        return csd with { Crc = Crc7.Of(csd.Bits.Bytes[..15]) };
    }

    /// <summary>SCR of version 3.0X, 5.XX or 6.XX with the security of the family and bus widths 1 and 4.</summary>
    public static Scr ScrOf(Silicon inside) => new()
    {
        Spec = 2,
        Spec3 = true,
        Spec4 = inside.SpecX >= 2,
        SpecX = inside.SpecX,
        Security = inside.ExtendedCapacity ? 4 : 3,
        BusWidths = 5,
        CommandSupport = inside.CommandSupport,
    };

    /// <summary>SD status: class 10, allocation units of 4 MiB, and the marks the silicon declares.</summary>
    public static SdStatus StatusOf(Silicon inside) => new()
    {
        ProtectedArea = inside.ExtendedCapacity ? 0x0800_0000u : 0x0400_0000u,
        SpeedClassCode = 4,
        AllocationUnitCode = 9,
        EraseUnits = 15,
        EraseTimeoutSeconds = 1,
        EraseOffsetSeconds = 1,
        UhsGrade = inside.UhsGrade,
        UhsAllocationUnitCode = inside.UhsGrade == 0 ? 0 : 0xA,
        VideoClass = inside.VideoClass,
        VideoAllocationUnitMegabytes = inside.VideoClass == 0 ? 0 : 8,
        ApplicationClass = inside.AppClass,
        CommandQueue = inside.AppClass == 2 ? 31 : 0,
        Cache = inside.AppClass == 2,
        HostMaintenance = inside.AppClass == 2,
        CardMaintenance = inside.AppClass == 2,
        DiscardSupport = inside.AppClass == 2,
        FullEraseSupport = inside.AppClass == 2,
    };

    private static string Text(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
