namespace Cardassay.Identity;

/// <summary>One time an identity was seen in a slot.</summary>
/// <param name="Tag">Tag it ran under, or null.</param>
/// <param name="Board">Name of the board.</param>
/// <param name="Slot">Kernel name of the disk on that board ("mmcblk0"), or null.</param>
/// <param name="From">When it was first seen there, on the clock of the collector; null when that clock is not known, and
/// then it is never compared.</param>
/// <param name="Until">When it was last seen there, on the same clock, not before <paramref name="From"/>.</param>
/// <param name="Registers">What it said then.</param>
public sealed record IdentitySighting(
    string? Tag, string Board, string? Slot, DateTimeOffset? From, DateTimeOffset? Until, CardRegisters Registers)
{
    /// <summary>
    /// Collector whose board saw it, "" for this one: sightings of one collector share a clock and a
    /// series of tags, those of two do not.
    /// </summary>
    public string Collector { get; init; } = "";
}
