namespace Cardassay.Trials;

/// <summary>What became of a block of 4,096 bytes that a proof wrote. The numbers are part of the wire format: never renumber.</summary>
public enum BlockState
{
    /// <summary>Not read, or not yet.</summary>
    NotProbed = 0,

    /// <summary>It holds what was written.</summary>
    Kept = 1,

    /// <summary>It holds what was written to another address.</summary>
    Wrapped = 2,

    /// <summary>It holds what was there before.</summary>
    Dropped = 3,

    /// <summary>It holds one byte value all over, such as 00 or FF.</summary>
    Constant = 4,

    /// <summary>It holds what was written, with some bits changed.</summary>
    Decayed = 5,

    /// <summary>Reading it fails.</summary>
    Unreadable = 6,

    /// <summary>
    /// Nothing can be said: its write was refused to the end, or it failed while the link erred, the device was away
    /// or the card was out of its slot.
    /// </summary>
    NotJudged = 7,
}
