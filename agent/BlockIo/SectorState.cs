namespace Cardassay.Agent.BlockIo;

/// <summary>What a block that was read holds.</summary>
public enum SectorState
{
    /// <summary>No tag of this program.</summary>
    Foreign = 0,

    /// <summary>One byte value all over, such as 00 or FF.</summary>
    Constant = 1,

    /// <summary>
    /// A tag with other bits than were written: in the fill, or in the header, which then says nothing (LBA and nonce 0).
    /// </summary>
    Damaged = 2,

    /// <summary>A tag, every bit as written.</summary>
    Whole = 3,
}

/// <summary>A block that was inspected.</summary>
/// <param name="State">What it holds.</param>
/// <param name="Lba">Where it says it belongs, in 512-byte sectors; 0 without a tag.</param>
/// <param name="Nonce">The pass it says it was written in; 0 without a tag.</param>
/// <param name="FillKey">Key of its fill; the byte value when it is constant.</param>
public readonly record struct SectorContent(SectorState State, long Lba, ulong Nonce, ulong FillKey);
