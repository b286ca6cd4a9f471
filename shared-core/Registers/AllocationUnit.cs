namespace Cardassay.Registers;

/// <summary>Sizes of allocation units (P4 4.10.2, tables of AU_SIZE and of the maximum AU size).</summary>
public static class AllocationUnit
{
    private const long KiB = 1L << 10;
    private const long MiB = 1L << 20;

    private static readonly long[] Bytes =
    [
        0, 16 * KiB, 32 * KiB, 64 * KiB, 128 * KiB, 256 * KiB, 512 * KiB,
        1 * MiB, 2 * MiB, 4 * MiB, 8 * MiB, 12 * MiB, 16 * MiB, 24 * MiB, 32 * MiB, 64 * MiB,
    ];

    /// <summary>Bytes of the code 1 to 15; null for 0, which means "not defined".</summary>
    public static long? BytesOf(int code) => code is >= 1 and <= 15 ? Bytes[code] : null;

    /// <summary>Largest unit a card of that capacity may have, bytes; above 2 TB the table ends and null is given.</summary>
    public static long? MaximumFor(long capacityBytes) => capacityBytes switch
    {
        <= 64 * MiB => 512 * KiB,
        <= 256 * MiB => 1 * MiB,
        <= 512 * MiB => 2 * MiB,
        <= 32L << 30 => 4 * MiB,
        <= 2L << 40 => 64 * MiB,
        _ => null,
    };
}
