namespace Cardassay.Plans;

/// <summary>The part of the target a step uses. Start and length are each given in bytes or in percent of the target.</summary>
public sealed record PlanRange
{
    /// <summary>Ranges begin and end on multiples of this, bytes.</summary>
    public const int AlignBytes = 4096;

    /// <summary>First byte; null when <see cref="StartPercent"/> says it.</summary>
    public long? StartBytes { get; init; }

    /// <summary>First byte as a part of the target, percent, 0 to 100.</summary>
    public double? StartPercent { get; init; }

    /// <summary>Length in bytes; null when <see cref="Percent"/> says it.</summary>
    public long? Bytes { get; init; }

    /// <summary>Length as a part of the target, percent, above 0 to 100.</summary>
    public double? Percent { get; init; }

    /// <summary>One past the last byte, as far as it does not depend on the target.</summary>
    public long EndBytes => (StartBytes ?? 0) + (Bytes ?? 0);

    /// <summary>
    /// The range on a target of the given size, rounded down to <see cref="AlignBytes"/>. It may lie outside: the caller checks.
    /// </summary>
    public (long StartBytes, long LengthBytes) On(long targetBytes)
    {
        long start = StartBytes ?? (long)(targetBytes * ((StartPercent ?? 0) / 100));
        long length = Bytes ?? (long)(targetBytes * ((Percent ?? 100) / 100));
        start -= start % AlignBytes;
        length -= length % AlignBytes;
        return (start, length);
    }
}
