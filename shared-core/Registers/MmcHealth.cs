using System.Globalization;

namespace Cardassay.Registers;

/// <summary>
/// What an eMMC says of its own wear: bytes 267 to 269 of the extended CSD (JESD84-B51, PRE_EOL_INFO and DEVICE_LIFE_TIME_EST_TYP_A
/// and B, as quoted on public pages). Sysfs: `/sys/block/NAME/device/life_time` ("0x01 0x02") and `pre_eol_info` ("0x01"), K `mmc.c`.
/// The device's own estimate, in steps of a tenth.
/// </summary>
/// <param name="LifeTimeA">Code for memory type A; null when there is none to read.</param>
/// <param name="LifeTimeB">Code for memory type B; null when there is none to read.</param>
/// <param name="SpareBlocks">Code for the spare blocks; null when there is none to read.</param>
public sealed record MmcHealth(int? LifeTimeA, int? LifeTimeB, int? SpareBlocks)
{
    /// <summary>Reads the two texts; what does not parse is null. Never throws.</summary>
    public static MmcHealth Parse(string? lifeTime, string? preEndOfLife)
    {
        string[] codes = (lifeTime ?? "").Split(' ', StringSplitOptions.RemoveEmptyEntries);
        return codes.Length == 2
            ? new MmcHealth(Code(codes[0]), Code(codes[1]), Code(preEndOfLife))
            : new MmcHealth(null, null, Code(preEndOfLife));
    }

    /// <summary>What a life time code means, in words.</summary>
    public static string LifeTimeWords(int code) => code switch
    {
        0 => "not stated",
        >= 1 and <= 10 => string.Create(
            CultureInfo.InvariantCulture, $"{(code - 1) * 10} to {code * 10} % of the life its maker expects is used up"),
        11 => "the life its maker expects is used up",
        _ => "a code without a meaning known here",
    };

    /// <summary>What the code of the spare blocks means, in words.</summary>
    public static string SpareBlocksWords(int code) => code switch
    {
        0 => "not stated",
        1 => "normal: less than 80 % of the spare blocks are used",
        2 => "warning: 80 % of the spare blocks are used",
        3 => "urgent: 90 % of the spare blocks are used",
        _ => "a code without a meaning known here",
    };

    private static int? Code(string? text) =>
        text?.Trim() is { } digits && digits.StartsWith("0x", StringComparison.Ordinal)
        && byte.TryParse(digits.AsSpan(2), NumberStyles.AllowHexSpecifier, CultureInfo.InvariantCulture, out byte code) ? code : null;
}
