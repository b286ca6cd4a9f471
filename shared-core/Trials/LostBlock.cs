namespace Cardassay.Trials;

/// <summary>One block that did not keep what was written to it: an example of the evidence.</summary>
/// <param name="OffsetBytes">Where it is.</param>
/// <param name="State">What became of it.</param>
/// <param name="FoundOffsetBytes">Wrapped: address whose content was found there; null when it could not be told
/// or in any other state.</param>
/// <param name="FoundValue">Dropped: nonce of the older pass, 0 without one. Constant: the byte value. Unreadable:
/// the error number. Else 0.</param>
/// <param name="FlippedBits">Decayed: number of bits that differ. Else 0.</param>
/// <param name="FirstFlippedBit">Decayed: lowest bit that differs, counted from bit 0 of byte 0. Else 0.</param>
public readonly record struct LostBlock(
    long OffsetBytes, BlockState State, long? FoundOffsetBytes = null, ulong FoundValue = 0, int FlippedBits = 0, int FirstFlippedBit = 0);
