namespace Cardassay.Registers;

/// <summary>
/// SD Status, 512 bits (P4 4.10.2). Sysfs: `/sys/block/NAME/device/ssr`, which the kernel caches before it widens the bus (a
/// <see cref="BusWidthCode"/> of 0 is normal) and which is all zero when its own reading failed.
/// </summary>
public sealed record SdStatus : Register
{
    /// <summary>A register of zeros, to be filled field by field.</summary>
    public SdStatus()
        : this(RegisterBits.Zero(512))
    {
    }

    private SdStatus(RegisterBits bits)
        : base(bits)
    {
    }

    /// <summary>DAT_BUS_WIDTH, bits 511:510: 0 = 1 line, 2 = 4 lines.</summary>
    public int BusWidthCode { get => Number(511, 510); init => Bits = WithNumber(511, 510, value); }

    /// <summary>SECURED_MODE, bit 509.</summary>
    public bool SecuredMode { get => Flag(509); init => Bits = WithFlag(509, value); }

    /// <summary>Bits 508:496, reserved.</summary>
    public int ReservedHigh { get => Number(508, 496); init => Bits = WithNumber(508, 496, value); }

    /// <summary>SD_CARD_TYPE, bits 495:480: 0 = regular card.</summary>
    public int CardType { get => Number(495, 480); init => Bits = WithNumber(495, 480, value); }

    /// <summary>SIZE_OF_PROTECTED_AREA, bits 479:448; bytes from SDHC on, see <see cref="ProtectedAreaBytes"/>.</summary>
    public uint ProtectedArea { get => (uint)Bits[479, 448]; init => Bits = Bits.With(479, 448, value); }

    /// <summary>SPEED_CLASS, bits 447:440: 0, 1, 2, 3, 4 = class 0, 2, 4, 6, 10.</summary>
    public int SpeedClassCode { get => Number(447, 440); init => Bits = WithNumber(447, 440, value); }

    /// <summary>PERFORMANCE_MOVE, bits 439:432, MB/s; FFh = infinite.</summary>
    public int MovePerformance { get => Number(439, 432); init => Bits = WithNumber(439, 432, value); }

    /// <summary>AU_SIZE, bits 431:428; see <see cref="AllocationUnit.BytesOf"/>.</summary>
    public int AllocationUnitCode { get => Number(431, 428); init => Bits = WithNumber(431, 428, value); }

    /// <summary>Bits 427:424, reserved.</summary>
    public int ReservedUnit { get => Number(427, 424); init => Bits = WithNumber(427, 424, value); }

    /// <summary>ERASE_SIZE, bits 423:408, allocation units erased in <see cref="EraseTimeoutSeconds"/>.</summary>
    public int EraseUnits { get => Number(423, 408); init => Bits = WithNumber(423, 408, value); }

    /// <summary>ERASE_TIMEOUT, bits 407:402, s.</summary>
    public int EraseTimeoutSeconds { get => Number(407, 402); init => Bits = WithNumber(407, 402, value); }

    /// <summary>ERASE_OFFSET, bits 401:400, s.</summary>
    public int EraseOffsetSeconds { get => Number(401, 400); init => Bits = WithNumber(401, 400, value); }

    /// <summary>UHS_SPEED_GRADE, bits 399:396: 0, 1 or 3.</summary>
    public int UhsGrade { get => Number(399, 396); init => Bits = WithNumber(399, 396, value); }

    /// <summary>UHS_AU_SIZE, bits 395:392; see <see cref="AllocationUnit.BytesOf"/>.</summary>
    public int UhsAllocationUnitCode { get => Number(395, 392); init => Bits = WithNumber(395, 392, value); }

    /// <summary>VIDEO_SPEED_CLASS, bits 391:384: 0, 6, 10, 30, 60 or 90.</summary>
    public int VideoClass { get => Number(391, 384); init => Bits = WithNumber(391, 384, value); }

    /// <summary>Bits 383:378, reserved.</summary>
    public int ReservedVideo { get => Number(383, 378); init => Bits = WithNumber(383, 378, value); }

    /// <summary>VSC_AU_SIZE, bits 377:368, MB.</summary>
    public int VideoAllocationUnitMegabytes { get => Number(377, 368); init => Bits = WithNumber(377, 368, value); }

    /// <summary>SUS_ADDR, bits 367:346: where a suspended recording goes on.</summary>
    public int SuspensionAddress { get => Number(367, 346); init => Bits = WithNumber(367, 346, value); }

    /// <summary>Bits 345:340, reserved.</summary>
    public int ReservedSuspension { get => Number(345, 340); init => Bits = WithNumber(345, 340, value); }

    /// <summary>APP_PERF_CLASS, bits 339:336: 0, 1 = A1, 2 = A2.</summary>
    public int ApplicationClass { get => Number(339, 336); init => Bits = WithNumber(339, 336, value); }

    /// <summary>Command queue support, bits 335:331 of PERFORMANCE_ENHANCE; 0 = none, else the depth less 1 (M).</summary>
    public int CommandQueue { get => Number(335, 331); init => Bits = WithNumber(335, 331, value); }

    /// <summary>Cache, bit 330 of PERFORMANCE_ENHANCE.</summary>
    public bool Cache { get => Flag(330); init => Bits = WithFlag(330, value); }

    /// <summary>Host-started maintenance, bit 329 of PERFORMANCE_ENHANCE.</summary>
    public bool HostMaintenance { get => Flag(329); init => Bits = WithFlag(329, value); }

    /// <summary>Card-started maintenance, bit 328 of PERFORMANCE_ENHANCE.</summary>
    public bool CardMaintenance { get => Flag(328); init => Bits = WithFlag(328, value); }

    /// <summary>Bits 327:314, reserved.</summary>
    public int ReservedSupport { get => Number(327, 314); init => Bits = WithNumber(327, 314, value); }

    /// <summary>DISCARD_SUPPORT, bit 313.</summary>
    public bool DiscardSupport { get => Flag(313); init => Bits = WithFlag(313, value); }

    /// <summary>FULE_SUPPORT, bit 312: full user area logical erase.</summary>
    public bool FullEraseSupport { get => Flag(312); init => Bits = WithFlag(312, value); }

    /// <summary>Speed class 0, 2, 4, 6 or 10; null for a reserved code.</summary>
    public int? SpeedClass => SpeedClassCode switch { 0 => 0, 1 => 2, 2 => 4, 3 => 6, 4 => 10, _ => null };

    /// <summary>Allocation unit, bytes; null when not defined.</summary>
    public long? AllocationUnitBytes => AllocationUnit.BytesOf(AllocationUnitCode);

    /// <summary>Allocation unit in UHS mode, bytes; null when not defined.</summary>
    public long? UhsAllocationUnitBytes => AllocationUnit.BytesOf(UhsAllocationUnitCode);

    /// <summary>
    /// What two readings of one card have in common: without the state of the bus (511:509), the suspension address a camera leaves
    /// (367:346) and the maker's own bits (311:0), which may count something.
    /// </summary>
    public RegisterBits Lasting
    {
        get
        {
            RegisterBits bits = Bits.With(511, 509, 0).With(367, 346, 0);
            for (int high = 311; high > 0; high -= 64)
            {
                bits = bits.With(high, Math.Max(0, high - 63), 0);
            }

            return bits;
        }
    }

    /// <summary>True when nothing is set: the kernel's own reading failed, the card said nothing.</summary>
    public bool IsAllZero => Bits.IsZero;

    /// <summary>Decodes 128 hex digits; unreadable with the reason otherwise. Never throws.</summary>
    public static Reading<SdStatus> Parse(string? text) => Parse(text, 512, bits => new SdStatus(bits));

    /// <summary>
    /// Protected area, bytes: the field itself from SDHC on; on SDSC the field times 2^(C_SIZE_MULT + 2) times 2^READ_BL_LEN
    /// (P4 4.10.2; the SDSC formula: M).
    /// </summary>
    public long ProtectedAreaBytes(Csd csd) =>
        csd.Version == 1 ? (long)ProtectedArea << (csd.DeviceSizeMultiplier + 2 + csd.ReadBlockLength) : ProtectedArea;
}
