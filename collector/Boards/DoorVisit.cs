using Microsoft.AspNetCore.Connections;

namespace Cardassay.Collector.Boards;

/// <summary>One connection at the boards' door.</summary>
/// <param name="Connection">The connection.</param>
/// <param name="Network">Where it comes from: an address, or the first 64 bits of an IPv6 address.</param>
internal sealed record DoorVisit(ConnectionContext Connection, string Network)
{
    /// <summary>Where it counts; null when it does not, or not any more.</summary>
    internal DoorPlace? Place { get; set; }

    /// <summary>The caller it counts for there.</summary>
    internal string Caller { get; set; } = "";

    /// <summary>When it took the place, as a timestamp of the clock.</summary>
    internal long Since { get; set; }
}

/// <summary>What a connection to the boards' door counts as. Each has places of its own, so that none can take another's.</summary>
internal enum DoorPlace
{
    /// <summary>The handshake is not over: nobody knows yet who it is.</summary>
    Arriving,

    /// <summary>Without a certificate that counts: may join and nothing else.</summary>
    Stranger,

    /// <summary>A board that joined.</summary>
    Member,
}
