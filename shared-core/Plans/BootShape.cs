namespace Cardassay.Plans;

/// <summary>
/// Sizes and places of the reads of a starting system: half of 4 KiB (pages that are faulted in), the rest larger as the kernel reads
/// ahead, up to its usual 128 KiB; seven of ten at random places, the others behind the one before. The shares are common practice, no
/// source; that such reads decide how long applications take to start: Kim, Agrawal, Ungureanu, FAST 2012.
/// </summary>
public static class BootShape
{
    /// <summary>Reads that go to a random place, percent.</summary>
    public const int RandomPercent = 70;

    /// <summary>Bytes of a read and its share, percent; the shares make 100.</summary>
    public static IReadOnlyList<(int Bytes, int Percent)> Sizes { get; } = [(4 << 10, 50), (16 << 10, 25), (64 << 10, 15), (128 << 10, 10)];
}
