namespace Cardassay.Collector.Boards;

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
