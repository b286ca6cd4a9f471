namespace Cardassay.Registers;

/// <summary>SD configuration register, 64 bits (P4 5.6; K `mmc_decode_scr`). Sysfs: `/sys/block/NAME/device/scr`.</summary>
public sealed record Scr : Register
{
    /// <summary>A register of zeros, to be filled field by field.</summary>
    public Scr()
        : this(RegisterBits.Zero(64))
    {
    }

    private Scr(RegisterBits bits)
        : base(bits)
    {
    }

    /// <summary>SCR_STRUCTURE, bits 63:60: 0; other values are reserved.</summary>
    public int Structure { get => Number(63, 60); init => Bits = WithNumber(63, 60, value); }

    /// <summary>SD_SPEC, bits 59:56.</summary>
    public int Spec { get => Number(59, 56); init => Bits = WithNumber(59, 56, value); }

    /// <summary>DATA_STAT_AFTER_ERASE, bit 55: what erased blocks read as.</summary>
    public bool ErasedReadsOnes { get => Flag(55); init => Bits = WithFlag(55, value); }

    /// <summary>SD_SECURITY, bits 54:52: 0 none, 2 SDSC, 3 SDHC, 4 SDXC.</summary>
    public int Security { get => Number(54, 52); init => Bits = WithNumber(54, 52, value); }

    /// <summary>SD_BUS_WIDTHS, bits 51:48: bit 0 = 1 line, bit 2 = 4 lines; both mandatory.</summary>
    public int BusWidths { get => Number(51, 48); init => Bits = WithNumber(51, 48, value); }

    /// <summary>SD_SPEC3, bit 47.</summary>
    public bool Spec3 { get => Flag(47); init => Bits = WithFlag(47, value); }

    /// <summary>EX_SECURITY, bits 46:43.</summary>
    public int ExtendedSecurity { get => Number(46, 43); init => Bits = WithNumber(46, 43, value); }

    /// <summary>SD_SPEC4, bit 42.</summary>
    public bool Spec4 { get => Flag(42); init => Bits = WithFlag(42, value); }

    /// <summary>SD_SPECX, bits 41:38.</summary>
    public int SpecX { get => Number(41, 38); init => Bits = WithNumber(41, 38, value); }

    /// <summary>Bits 37:36, reserved, zero.</summary>
    public int Reserved { get => Number(37, 36); init => Bits = WithNumber(37, 36, value); }

    /// <summary>CMD_SUPPORT, bits 35:32: bit 32 CMD20, 33 CMD23, 34 CMD48/49, 35 CMD58/59.</summary>
    public int CommandSupport { get => Number(35, 32); init => Bits = WithNumber(35, 32, value); }

    /// <summary>CMD20, the speed class command: bit 32.</summary>
    public bool SupportsSpeedClassCommand => Flag(32);

    /// <summary>CMD48 and CMD49, which read and write the extension registers: bit 34.</summary>
    public bool SupportsExtensionRegisters => Flag(34);

    /// <summary>Bits 31:0, the maker's own.</summary>
    public uint MakerBits { get => (uint)Bits[31, 0]; init => Bits = Bits.With(31, 0, value); }

    /// <summary>
    /// Major version of the physical layer specification: 1 to 9, or null when the four fields give none. Versions from 4 on: M.
    /// </summary>
    public int? SpecMajor => (Spec, Spec3, Spec4, SpecX) switch
    {
        (0 or 1, false, false, 0) => 1,
        (2, false, false, 0) => 2,
        (2, true, false, 0) => 3,
        (2, true, true, 0) => 4,
        (2, true, _, >= 1 and <= 5) => 4 + SpecX,
        _ => null,
    };

    /// <summary>
    /// Version as text, as the standard writes it ("1.0x", "1.10", "2.00", "3.0X", "4.XX" ... "9.XX"), or null when undefined.
    /// </summary>
    public string? SpecVersion => SpecMajor switch
    {
        1 => Spec == 0 ? "1.0x" : "1.10",
        2 => "2.00",
        3 => "3.0X",
        int major => string.Create(System.Globalization.CultureInfo.InvariantCulture, $"{major}.XX"),
        null => null,
    };

    /// <summary>Decodes 16 hex digits; unreadable with the reason otherwise. Never throws.</summary>
    public static Reading<Scr> Parse(string? text) => Parse(text, 64, bits => new Scr(bits));
}
