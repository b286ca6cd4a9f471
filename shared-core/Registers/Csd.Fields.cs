namespace Cardassay.Registers;

/// <content>The fields, from the highest bit down (P4 tables 5-4 and 5-16).</content>
public sealed partial record Csd
{
    /// <summary>CSD_STRUCTURE, bits 127:126: 0 = version 1, 1 = version 2, 2 = version 3.</summary>
    public int Structure { get => Number(127, 126); init => Bits = WithNumber(127, 126, value); }

    /// <summary>Bits 125:120, reserved, zero.</summary>
    public int ReservedHigh { get => Number(125, 120); init => Bits = WithNumber(125, 120, value); }

    /// <summary>TAAC, bits 119:112; see <see cref="AccessTimeNs"/>. 0Eh in versions 2 and 3.</summary>
    public int Taac { get => Number(119, 112); init => Bits = WithNumber(119, 112, value); }

    /// <summary>NSAC, bits 111:104, hundreds of clock cycles. 0 in versions 2 and 3.</summary>
    public int Nsac { get => Number(111, 104); init => Bits = WithNumber(111, 104, value); }

    /// <summary>
    /// TRAN_SPEED, bits 103:96; see <see cref="TransferRateBitsPerSecond"/>. 32h after reset, which is when the kernel reads it.
    /// </summary>
    public int TransferRate { get => Number(103, 96); init => Bits = WithNumber(103, 96, value); }

    /// <summary>CCC, bits 95:84: bit n set = command class n supported.</summary>
    public int CommandClasses { get => Number(95, 84); init => Bits = WithNumber(95, 84, value); }

    /// <summary>READ_BL_LEN, bits 83:80: the block is 2^n bytes. 9 in versions 2 and 3.</summary>
    public int ReadBlockLength { get => Number(83, 80); init => Bits = WithNumber(83, 80, value); }

    /// <summary>READ_BL_PARTIAL, bit 79.</summary>
    public bool ReadBlockPartial { get => Flag(79); init => Bits = WithFlag(79, value); }

    /// <summary>WRITE_BLK_MISALIGN, bit 78.</summary>
    public bool WriteBlockMisalign { get => Flag(78); init => Bits = WithFlag(78, value); }

    /// <summary>READ_BLK_MISALIGN, bit 77.</summary>
    public bool ReadBlockMisalign { get => Flag(77); init => Bits = WithFlag(77, value); }

    /// <summary>DSR_IMP, bit 76: a driver stage register exists.</summary>
    public bool DriverStageRegister { get => Flag(76); init => Bits = WithFlag(76, value); }

    /// <summary>Reserved bits above C_SIZE, zero: 75:74 in version 1, 75:70 in version 2, none (always 0) otherwise.</summary>
    public int ReservedAboveSize => Structure switch { 0 => Number(75, 74), 1 => Number(75, 70), _ => 0 };

    /// <summary>
    /// C_SIZE: bits 73:62 in version 1, 69:48 in version 2, 75:48 in version 3; 0 and not settable in an undefined structure.
    /// </summary>
    /// <exception cref="ArgumentOutOfRangeException">The value does not fit, or the structure is undefined.</exception>
    public long DeviceSize
    {
        get => SizeField is var (high, low) ? (long)Bits[high, low] : 0;
        init
        {
            ArgumentOutOfRangeException.ThrowIfNegative(value);
            (int high, int low) = SizeField
                ?? throw new ArgumentOutOfRangeException(nameof(value), "An undefined structure has no C_SIZE.");
            Bits = Bits.With(high, low, (ulong)value);
        }
    }

    /// <summary>
    /// VDD_R_CURR_MIN, bits 61:59, version 1 only (0 otherwise). Codes of P4 table 5-10: 0.5, 1, 5, 10, 25, 35, 60, 100 mA.
    /// </summary>
    public int ReadCurrentMinimumCode { get => Version1(61, 59); init => Bits = WithVersion1(61, 59, value); }

    /// <summary>
    /// VDD_R_CURR_MAX, bits 58:56, version 1 only (0 otherwise). Codes of P4 table 5-11: 1, 5, 10, 25, 35, 45, 80, 200 mA.
    /// </summary>
    public int ReadCurrentMaximumCode { get => Version1(58, 56); init => Bits = WithVersion1(58, 56, value); }

    /// <summary>VDD_W_CURR_MIN, bits 55:53, version 1 only (0 otherwise), same codes as reading.</summary>
    public int WriteCurrentMinimumCode { get => Version1(55, 53); init => Bits = WithVersion1(55, 53, value); }

    /// <summary>VDD_W_CURR_MAX, bits 52:50, version 1 only (0 otherwise), same codes as reading.</summary>
    public int WriteCurrentMaximumCode { get => Version1(52, 50); init => Bits = WithVersion1(52, 50, value); }

    /// <summary>C_SIZE_MULT, bits 49:47, version 1 only (0 otherwise).</summary>
    public int DeviceSizeMultiplier { get => Version1(49, 47); init => Bits = WithVersion1(49, 47, value); }

    /// <summary>Bit 47, reserved, zero, in versions 2 and 3; false otherwise.</summary>
    public bool ReservedBelowSize => Structure is 1 or 2 && Flag(47);

    /// <summary>ERASE_BLK_EN, bit 46. 1 in versions 2 and 3.</summary>
    public bool EraseSingleBlock { get => Flag(46); init => Bits = WithFlag(46, value); }

    /// <summary>SECTOR_SIZE, bits 45:39: erasable sector in write blocks, less 1. 7Fh in versions 2 and 3.</summary>
    public int EraseSectorSize { get => Number(45, 39); init => Bits = WithNumber(45, 39, value); }

    /// <summary>WP_GRP_SIZE, bits 38:32: write protect group in sectors, less 1. 0 in versions 2 and 3.</summary>
    public int WriteProtectGroupSize { get => Number(38, 32); init => Bits = WithNumber(38, 32, value); }

    /// <summary>WP_GRP_ENABLE, bit 31. 0 in versions 2 and 3.</summary>
    public bool WriteProtectGroups { get => Flag(31); init => Bits = WithFlag(31, value); }

    /// <summary>Bits 30:29, reserved, zero.</summary>
    public int ReservedMiddle { get => Number(30, 29); init => Bits = WithNumber(30, 29, value); }

    /// <summary>R2W_FACTOR, bits 28:26: writing takes 2^n times as long as reading. 2 in versions 2 and 3.</summary>
    public int ReadToWriteFactor { get => Number(28, 26); init => Bits = WithNumber(28, 26, value); }

    /// <summary>WRITE_BL_LEN, bits 25:22: the block is 2^n bytes. 9 in versions 2 and 3.</summary>
    public int WriteBlockLength { get => Number(25, 22); init => Bits = WithNumber(25, 22, value); }

    /// <summary>WRITE_BL_PARTIAL, bit 21.</summary>
    public bool WriteBlockPartial { get => Flag(21); init => Bits = WithFlag(21, value); }

    /// <summary>Bits 20:16, reserved, zero.</summary>
    public int ReservedLow { get => Number(20, 16); init => Bits = WithNumber(20, 16, value); }

    /// <summary>FILE_FORMAT_GRP, bit 15. 0 in versions 2 and 3.</summary>
    public bool FileFormatGroup { get => Flag(15); init => Bits = WithFlag(15, value); }

    /// <summary>COPY, bit 14. Genuine cards show it set: it is no evidence of a copy.</summary>
    public bool Copy { get => Flag(14); init => Bits = WithFlag(14, value); }

    /// <summary>PERM_WRITE_PROTECT, bit 13.</summary>
    public bool PermanentWriteProtect { get => Flag(13); init => Bits = WithFlag(13, value); }

    /// <summary>TMP_WRITE_PROTECT, bit 12.</summary>
    public bool TemporaryWriteProtect { get => Flag(12); init => Bits = WithFlag(12, value); }

    /// <summary>FILE_FORMAT, bits 11:10. 0 in versions 2 and 3.</summary>
    public int FileFormat { get => Number(11, 10); init => Bits = WithNumber(11, 10, value); }

    /// <summary>Bits 9:8, reserved; later versions of the standard use them (M).</summary>
    public int ReservedEnd { get => Number(9, 8); init => Bits = WithNumber(9, 8, value); }

    /// <summary>CRC7, bits 7:1.</summary>
    public int Crc { get => Number(7, 1); init => Bits = WithNumber(7, 1, value); }

    /// <summary>Bit 0, always 1 on the card; some hosts clear it.</summary>
    public bool StopBit { get => Flag(0); init => Bits = WithFlag(0, value); }

    private (int High, int Low)? SizeField => Structure switch { 0 => (73, 62), 1 => (69, 48), 2 => (75, 48), _ => null };

    private int Version1(int high, int low) => Structure == 0 ? Number(high, low) : 0;

    private RegisterBits WithVersion1(int high, int low, int value) => Structure == 0
        ? WithNumber(high, low, value)
        : throw new ArgumentOutOfRangeException(nameof(value), "Only structure version 1 has this field.");
}
