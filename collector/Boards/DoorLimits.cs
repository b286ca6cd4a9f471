namespace Cardassay.Collector.Boards;

/// <summary>
/// How many connections of a kind may be open at once. A limit is kept by ending the oldest connection of whoever has most, so
/// that the next one always gets in.
/// </summary>
/// <param name="OfOne">Of one caller: of an address (IPv6: a /64), or of a board.</param>
/// <param name="InAll">Of all callers.</param>
/// <param name="Life">Longest time in this place; null for any.</param>
internal sealed record DoorLimits(int OfOne, int InAll, TimeSpan? Life)
{
    /// <summary>
    /// The limits of a place. The figures are common sense, no source: joining takes two connections of a second each, and a
    /// laboratory of 64 boards may join from behind one address; a board has one stream, and two or three more connections
    /// that a lost network left behind.
    /// </summary>
    internal static DoorLimits Of(DoorPlace place) => place switch
    {
        DoorPlace.Arriving => new(128, 512, TimeSpan.FromSeconds(10)),
        DoorPlace.Stranger => new(64, 256, TimeSpan.FromSeconds(30)),
        _ => new(8, 1_024, null),
    };

    /// <summary>Connections of all places together, which the server itself must take.</summary>
    internal static int Total => Enum.GetValues<DoorPlace>().Sum(p => Of(p).InAll);
}
