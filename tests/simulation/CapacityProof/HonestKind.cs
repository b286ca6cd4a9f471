namespace Cardassay.Simulation.Tests.CapacityProof;

/// <summary>What befalls a simulated card that keeps what it claims.</summary>
public enum HonestKind
{
    /// <summary>Nothing.</summary>
    Plain,

    /// <summary>Slow, 0.9 s before its first write, and proven with a time budget.</summary>
    Slow,

    /// <summary>Now and then a transfer fails or brings a changed bit; the host counts it.</summary>
    ErringLink,

    /// <summary>The same where the host does not count.</summary>
    ErringLinkUncounted,

    /// <summary>Away for up to 40 s, once.</summary>
    Away,

    /// <summary>The same, and what was not flushed is forgotten.</summary>
    AwayAndForgets,

    /// <summary>Some blocks cannot be read, fewer than one in a thousand.</summary>
    BadBlocks,

    /// <summary>Some blocks come back with changed bits.</summary>
    FlippedBits,

    /// <summary>Some blocks take no write.</summary>
    Refusing,

    /// <summary>From some transfer on nothing is answered any more.</summary>
    Dead,

    /// <summary>From some write on no write is taken.</summary>
    ReadOnly,

    /// <summary>Fails for so short a moment that the first repetition works, and has forgotten what was not flushed: the host had it reset.</summary>
    Reset,
}
