using System.Globalization;

namespace Cardassay.Registers;

/// <summary>Card identification of an SD card, 128 bits (P4 5.2; K `mmc_decode_cid`). Sysfs: `/sys/block/NAME/device/cid`.</summary>
public sealed record Cid : Register
{
    /// <summary>A register of zeros, to be filled field by field.</summary>
    public Cid()
        : this(RegisterBits.Zero(128))
    {
    }

    private Cid(RegisterBits bits)
        : base(bits)
    {
    }

    /// <summary>MID, bits 127:120. Assigned privately; no published list says whose it is.</summary>
    public int ManufacturerId { get => Number(127, 120); init => Bits = WithNumber(127, 120, value); }

    /// <summary>OID, bits 119:104: two ASCII characters.</summary>
    public int OemId { get => Number(119, 104); init => Bits = WithNumber(119, 104, value); }

    /// <summary>PNM, bits 103:64: five ASCII characters, the first in the highest byte.</summary>
    public ulong ProductNameBits { get => Bits[103, 64]; init => Bits = Bits.With(103, 64, value); }

    /// <summary>PRV major, bits 63:60, binary coded decimal (the kernel's `hwrev`).</summary>
    public int RevisionMajor { get => Number(63, 60); init => Bits = WithNumber(63, 60, value); }

    /// <summary>PRV minor, bits 59:56, binary coded decimal (the kernel's `fwrev`).</summary>
    public int RevisionMinor { get => Number(59, 56); init => Bits = WithNumber(59, 56, value); }

    /// <summary>PSN, bits 55:24.</summary>
    public uint SerialNumber { get => (uint)Bits[55, 24]; init => Bits = Bits.With(55, 24, value); }

    /// <summary>Bits 23:20, reserved, zero.</summary>
    public int Reserved { get => Number(23, 20); init => Bits = WithNumber(23, 20, value); }

    /// <summary>Year of MDT, bits 19:12, years after 2000.</summary>
    public int ManufactureYearCode { get => Number(19, 12); init => Bits = WithNumber(19, 12, value); }

    /// <summary>Month of MDT, bits 11:8: 1 to 12.</summary>
    public int ManufactureMonth { get => Number(11, 8); init => Bits = WithNumber(11, 8, value); }

    /// <summary>CRC7, bits 7:1.</summary>
    public int Crc { get => Number(7, 1); init => Bits = WithNumber(7, 1, value); }

    /// <summary>Bit 0, always 1 on the card; some hosts clear it.</summary>
    public bool StopBit { get => Flag(0); init => Bits = WithFlag(0, value); }

    /// <summary>Bytes of the product name.</summary>
    public ReadOnlySpan<byte> ProductNameBytes => Bits.Bytes[3..8];

    /// <summary>Product name for people; what is not printable appears as %xx.</summary>
    public string ProductName => CardText.Printable(ProductNameBytes);

    /// <summary>OID for people; what is not printable appears as %xx.</summary>
    public string OemText => CardText.Printable(Bits.Bytes[1..3]);

    /// <summary>"major.minor"; digits above 9 are no valid code and appear as a to f.</summary>
    public string ProductRevision => string.Create(CultureInfo.InvariantCulture, $"{RevisionMajor:x}.{RevisionMinor:x}");

    /// <summary>Month of manufacture.</summary>
    public ManufactureDate Manufactured => new(2000 + ManufactureYearCode, ManufactureMonth);

    /// <summary>State of the checksum.</summary>
    public CrcState CrcState => Crc7.StateOf(Bits);

    /// <summary>Decodes 32 hex digits; unreadable with the reason otherwise. Never throws.</summary>
    public static Reading<Cid> Parse(string? text) => Parse(text, 128, bits => new Cid(bits));
}
