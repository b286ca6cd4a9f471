namespace Cardassay.Registers;

/// <summary>
/// Card-specific data of an SD card, 128 bits, structure versions 1, 2 and 3 (P4 5.3; version 3: P9; K `mmc_decode_csd` in
/// `sd.c`). Sysfs: `/sys/block/NAME/device/csd`. When a register is built field by field, <see cref="Structure"/> comes
/// first: it decides where <see cref="DeviceSize"/> lies.
/// </summary>
public sealed partial record Csd : Register
{
    private static readonly int[] MantissaTenths = [0, 10, 12, 13, 15, 20, 25, 30, 35, 40, 45, 50, 55, 60, 70, 80];

    /// <summary>A register of zeros, to be filled field by field.</summary>
    public Csd()
        : this(RegisterBits.Zero(128))
    {
    }

    private Csd(RegisterBits bits)
        : base(bits)
    {
    }

    /// <summary>Structure version 1 to 3, or null for the value the standard does not define.</summary>
    public int? Version => Structure < 3 ? Structure + 1 : null;

    /// <summary>
    /// Size of the user area in bytes. Version 1: (C_SIZE + 1) * 2^(C_SIZE_MULT + 2) * 2^READ_BL_LEN; versions 2 and 3:
    /// (C_SIZE + 1) * 512 KiB. Null for an undefined structure.
    /// </summary>
    public long? CapacityBytes => Version switch
    {
        1 => (DeviceSize + 1) << (DeviceSizeMultiplier + 2 + ReadBlockLength),
        2 or 3 => (DeviceSize + 1) << 19,
        _ => null,
    };

    /// <summary>
    /// Family by structure and C_SIZE (P4 5.3.3; SDUC: P9). <see cref="CardFamily.None"/> when C_SIZE lies outside the limits of
    /// every family of that structure.
    /// </summary>
    public CardFamily Family => (Version, DeviceSize) switch
    {
        (1, _) when CapacityBytes <= 1L << 31 => CardFamily.Sdsc,
        (2, >= 0x1010 and <= 0xFF5F) => CardFamily.Sdhc,
        (2, >= 0xFFFF and <= 0x3FFEFF) => CardFamily.Sdxc,
        (3, >= 0x400000) => CardFamily.Sduc,
        _ => CardFamily.None,
    };

    /// <summary>TAAC in ns: mantissa (bits 6:3) times 10^n (bits 2:0) ns; null for the reserved mantissa 0.</summary>
    public double? AccessTimeNs => Mantissa(Taac) is int tenths ? tenths * Math.Pow(10, Taac & 7) / 10 : null;

    /// <summary>
    /// TRAN_SPEED in bit/s on one line: mantissa (bits 6:3) times 100 kbit/s times 10^n (bits 2:0, 0
    /// to 3); null for reserved codes.
    /// </summary>
    public long? TransferRateBitsPerSecond => Mantissa(TransferRate) is int tenths && (TransferRate & 7) <= 3
        ? tenths * 10_000L * (long)Math.Pow(10, TransferRate & 7)
        : null;

    /// <summary>State of the checksum.</summary>
    public CrcState CrcState => Crc7.StateOf(Bits);

    /// <summary>Decodes 32 hex digits; unreadable with the reason otherwise. Never throws.</summary>
    public static Reading<Csd> Parse(string? text) => Parse(text, 128, bits => new Csd(bits));

    private static int? Mantissa(int code) => MantissaTenths[(code >> 3) & 15] is int tenths and > 0 ? tenths : null;
}
