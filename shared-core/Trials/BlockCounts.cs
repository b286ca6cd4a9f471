namespace Cardassay.Trials;

/// <summary>Blocks that were read, by what became of them.</summary>
/// <param name="Kept">Held what was written.</param>
/// <param name="Wrapped">Held what was written elsewhere.</param>
/// <param name="Dropped">Held what was there before.</param>
/// <param name="Constant">Held one byte value.</param>
/// <param name="Decayed">Had some bits changed.</param>
/// <param name="Unreadable">Could not be read.</param>
/// <param name="NotJudged">Nothing can be said of them.</param>
public readonly record struct BlockCounts(
    long Kept, long Wrapped, long Dropped, long Constant, long Decayed, long Unreadable, long NotJudged = 0)
{
    /// <summary>Blocks that did not keep what was written to them.</summary>
    public long Lost => Wrapped + Dropped + Constant + Decayed + Unreadable;

    /// <summary>One more block.</summary>
    public BlockCounts Plus(BlockState state, long blocks = 1) => state switch
    {
        BlockState.Kept => this with { Kept = Kept + blocks },
        BlockState.Wrapped => this with { Wrapped = Wrapped + blocks },
        BlockState.Dropped => this with { Dropped = Dropped + blocks },
        BlockState.Constant => this with { Constant = Constant + blocks },
        BlockState.Decayed => this with { Decayed = Decayed + blocks },
        BlockState.Unreadable => this with { Unreadable = Unreadable + blocks },
        BlockState.NotJudged => this with { NotJudged = NotJudged + blocks },
        _ => this,
    };
}
