using System.Globalization;

namespace Cardassay.Registers;

/// <summary>Card identification of an eMMC, 128 bits (K `mmc_decode_cid` in `mmc.c`). Sysfs: `/sys/block/NAME/device/cid`.</summary>
public sealed record MmcCid : Register
{
    /// <summary>A register of zeros, to be filled field by field.</summary>
    public MmcCid()
        : this(RegisterBits.Zero(128))
    {
    }

    private MmcCid(RegisterBits bits)
        : base(bits)
    {
    }

    /// <summary>Manufacturer id, bits 127:120.</summary>
    public int ManufacturerId { get => Number(127, 120); init => Bits = WithNumber(127, 120, value); }

    /// <summary>OEM id, bits 119:104.</summary>
    public int OemId { get => Number(119, 104); init => Bits = WithNumber(119, 104, value); }

    /// <summary>Product name, bits 103:56: six ASCII characters.</summary>
    public ulong ProductNameBits { get => Bits[103, 56]; init => Bits = Bits.With(103, 56, value); }

    /// <summary>Revision major, bits 55:52.</summary>
    public int RevisionMajor { get => Number(55, 52); init => Bits = WithNumber(55, 52, value); }

    /// <summary>Revision minor, bits 51:48.</summary>
    public int RevisionMinor { get => Number(51, 48); init => Bits = WithNumber(51, 48, value); }

    /// <summary>Serial number, bits 47:16.</summary>
    public uint SerialNumber { get => (uint)Bits[47, 16]; init => Bits = Bits.With(47, 16, value); }

    /// <summary>Month, bits 15:12: 1 to 12.</summary>
    public int ManufactureMonth { get => Number(15, 12); init => Bits = WithNumber(15, 12, value); }

    /// <summary>Year code, bits 11:8; what it means depends on the extended CSD revision, see <see cref="Manufactured"/>.</summary>
    public int ManufactureYearCode { get => Number(11, 8); init => Bits = WithNumber(11, 8, value); }

    /// <summary>CRC7, bits 7:1.</summary>
    public int Crc { get => Number(7, 1); init => Bits = WithNumber(7, 1, value); }

    /// <summary>Bit 0, always 1 on the card; some hosts clear it.</summary>
    public bool StopBit { get => Flag(0); init => Bits = WithFlag(0, value); }

    /// <summary>Bytes of the product name.</summary>
    public ReadOnlySpan<byte> ProductNameBytes => Bits.Bytes[3..9];

    /// <summary>Product name for people; what is not printable appears as %xx.</summary>
    public string ProductName => CardText.Printable(ProductNameBytes);

    /// <summary>"major.minor" in hex digits.</summary>
    public string ProductRevision => string.Create(CultureInfo.InvariantCulture, $"{RevisionMajor:x}.{RevisionMinor:x}");

    /// <summary>State of the checksum.</summary>
    public CrcState CrcState => Crc7.StateOf(Bits);

    /// <summary>Decodes 32 hex digits; unreadable with the reason otherwise. Never throws.</summary>
    public static Reading<MmcCid> Parse(string? text) => Parse(text, 128, bits => new MmcCid(bits));

    /// <summary>
    /// Month of manufacture: year code + 1997, and 16 more from extended CSD revision 5 on when that gives a year before 2010
    /// (K `mmc_decode_ext_csd`; kernels before that correction print the uncorrected year).
    /// </summary>
    /// <param name="extCsdRevision">Sysfs `rev`; null when unknown, then the year is not corrected.</param>
    public ManufactureDate Manufactured(int? extCsdRevision)
    {
        int year = 1997 + ManufactureYearCode;
        return new ManufactureDate(extCsdRevision >= 5 && year < 2010 ? year + 16 : year, ManufactureMonth);
    }
}
