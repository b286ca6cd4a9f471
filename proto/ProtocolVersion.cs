namespace Cardassay.Wire;

/// <summary>Versions of the delivery protocol. A greeting exchanges ranges; the highest common one is spoken.</summary>
public static class ProtocolVersion
{
    /// <summary>Lowest version this build speaks.</summary>
    public const uint Lowest = 1;

    /// <summary>Highest version this build speaks.</summary>
    public const uint Highest = 1;

    /// <summary>Version of the observation schema, kept with every journal record.</summary>
    public const int Schema = 1;

    /// <summary>Longest record on the wire, bytes: the entry of a collector's log that holds it stays below what a log takes (1 MiB less 4 KiB).</summary>
    public const int MaxRecordBytes = (1 << 20) - (8 << 10);

    /// <summary>Longest observation, bytes; with what a record says besides, it stays below <see cref="MaxRecordBytes"/>.</summary>
    public const int MaxPayloadBytes = MaxRecordBytes - (4 << 10);

    /// <summary>The version both sides speak, or null when there is none.</summary>
    public static uint? Agree(uint lowest, uint highest) =>
        Math.Max(lowest, Lowest) <= Math.Min(highest, Highest) ? Math.Min(highest, Highest) : null;
}
