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

    /// <summary>The version both sides speak, or null when there is none.</summary>
    public static uint? Agree(uint lowest, uint highest) =>
        Math.Max(lowest, Lowest) <= Math.Min(highest, Highest) ? Math.Min(highest, Highest) : null;
}
