namespace Cardassay.Agent.CapacityProof;

/// <summary>Adjacent blocks, by number.</summary>
/// <param name="Start">First block.</param>
/// <param name="Count">How many.</param>
internal readonly record struct BlockRun(long Start, long Count)
{
    /// <summary>First block behind it.</summary>
    public long End => Start + Count;
}
