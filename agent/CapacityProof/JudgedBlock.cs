using Cardassay.Agent.BlockIo;
using Cardassay.Trials;

namespace Cardassay.Agent.CapacityProof;

/// <summary>What became of one block.</summary>
/// <param name="State">The outcome.</param>
/// <param name="FoundSector">Wrapped: sector (512 bytes) at which the content found there was written; -1 when it cannot be told.</param>
/// <param name="FoundValue">Dropped: nonce of the older pass or 0. Constant: the byte. Unreadable: the error number. Not judged: the
/// <see cref="NotJudgedReason"/>.</param>
/// <param name="FlippedBits">Decayed: bits that differ.</param>
/// <param name="FirstFlippedBit">Decayed: lowest bit that differs, from bit 0 of byte 0.</param>
internal readonly record struct JudgedBlock(
    BlockState State, long FoundSector = -1, ulong FoundValue = 0, int FlippedBits = 0, int FirstFlippedBit = 0)
{
    public static JudgedBlock Kept { get; } = new(BlockState.Kept);

    public static JudgedBlock NotJudged(NotJudgedReason reason) => new(BlockState.NotJudged, FoundValue: (ulong)reason);

    public bool IsKept => State == BlockState.Kept;

    /// <summary>True when the card has room for it: what comes back with flipped bits was stored.</summary>
    public bool IsStored => State is BlockState.Kept or BlockState.Decayed;

    /// <summary>True when it is known to be wrong; a block that is not judged is neither kept nor lost.</summary>
    public bool IsLost => State is not (BlockState.Kept or BlockState.NotJudged or BlockState.NotProbed);

    /// <summary>
    /// True when reading once more could bring something else: an error, changed bits, or content nobody can name. A good tag of another
    /// place or pass, or one byte all over, is no accident of the link.
    /// </summary>
    public bool MayBeTransient => State is BlockState.Unreadable or BlockState.Decayed || (State == BlockState.Dropped && FoundValue == 0);

    public LostBlock ToLostBlock(long offsetBytes) => new(
        offsetBytes, State, FoundSector < 0 ? null : FoundSector * SectorTag.SectorBytes, FoundValue, FlippedBits, FirstFlippedBit);
}

/// <summary>Why nothing can be said of a block that is wrong.</summary>
internal enum NotJudgedReason
{
    /// <summary>Its write was refused, and refused again in the closing pass.</summary>
    Refused = 1,

    /// <summary>The bus counted errors while it was written, or whenever it was read.</summary>
    LinkErred = 2,

    /// <summary>The device was away after it was written and before that was flushed, or the card was out of its slot.</summary>
    WasAway = 3,
}
