using System.Globalization;

namespace Cardassay.Collector.Boards;

/// <summary>How full the boards' door is.</summary>
/// <param name="Arriving">Connections whose handshake is not over.</param>
/// <param name="Strangers">Connections without a certificate that counts.</param>
/// <param name="Members">Connections of boards that joined.</param>
/// <param name="FullSince">Since when connections have been turned away; null when there is room.</param>
/// <param name="TurnedAway">How many of them since then.</param>
/// <param name="MostFrom">Where most of them came from.</param>
internal sealed record DoorState(int Arriving, int Strangers, int Members, DateTimeOffset? FullSince, long TurnedAway, string MostFrom)
{
    /// <summary>What a person should know, or null.</summary>
    internal string? Sentence => FullSince is { } since
        ? string.Create(
            CultureInfo.InvariantCulture,
            $"The door for callers without a board's certificate has been full since {since.UtcDateTime:yyyy-MM-dd HH:mm} UTC: "
                + $"{TurnedAway} connections were turned away, most of them from {MostFrom}. Boards that joined are let in; "
                + $"one that wants to join may have to try again. Keep strangers from the port, with a firewall for example.")
        : null;
}
