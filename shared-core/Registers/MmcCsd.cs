namespace Cardassay.Registers;

/// <summary>
/// The part of an eMMC's card-specific data that says something here (K `mmc_decode_csd` in `mmc.c`). Devices above 2 GiB
/// state their size in the extended CSD, which sysfs does not show; the size of the disk is the one to use.
/// </summary>
public sealed record MmcCsd : Register
{
    private const int SizePlaceholder = 0xFFF;

    private MmcCsd(RegisterBits bits)
        : base(bits)
    {
    }

    /// <summary>CSD_STRUCTURE, bits 127:126.</summary>
    public int Structure => Number(127, 126);

    /// <summary>SPEC_VERS, bits 125:122: version of the system specification.</summary>
    public int SpecificationVersion => Number(125, 122);

    /// <summary>CCC, bits 95:84: bit n set = command class n supported.</summary>
    public int CommandClasses => Number(95, 84);

    /// <summary>READ_BL_LEN, bits 83:80: the block is 2^n bytes.</summary>
    public int ReadBlockLength => Number(83, 80);

    /// <summary>C_SIZE, bits 73:62; FFFh = look into the extended CSD.</summary>
    public int DeviceSize => Number(73, 62);

    /// <summary>C_SIZE_MULT, bits 49:47.</summary>
    public int DeviceSizeMultiplier => Number(49, 47);

    /// <summary>Size in bytes, or null when C_SIZE is only the placeholder.</summary>
    public long? CapacityBytes =>
        DeviceSize == SizePlaceholder ? null : (DeviceSize + 1L) << (DeviceSizeMultiplier + 2 + ReadBlockLength);

    /// <summary>State of the checksum.</summary>
    public CrcState CrcState => Crc7.StateOf(Bits);

    /// <summary>Decodes 32 hex digits; unreadable with the reason otherwise. Never throws.</summary>
    public static Reading<MmcCsd> Parse(string? text) => Parse(text, 128, bits => new MmcCsd(bits));
}
