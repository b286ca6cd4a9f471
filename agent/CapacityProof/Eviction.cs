using Cardassay.Agent.BlockIo;

namespace Cardassay.Agent.CapacityProof;

/// <summary>
/// What is written to push probes out of a controller's cache: distinct blocks between the probes, from the top of the address range
/// down, because what a lying card's cache hides is the top. On a card that folds its top into a window the same writes also go over
/// that window.
/// </summary>
internal static class Eviction
{
    /// <summary>Blocks of one write: 1 MiB.</summary>
    public const int WriteBlocks = (1 << 20) / SectorTag.BlockBytes;

    /// <summary>The writes, in order.</summary>
    /// <param name="blocks">Blocks of the range.</param>
    /// <param name="probes">What must not be touched, ascending and without overlap.</param>
    /// <param name="most">Blocks to write at most.</param>
    public static IEnumerable<BlockRun> Writes(long blocks, IReadOnlyList<BlockRun> probes, long most)
    {
        long top = blocks;
        for (int i = probes.Count; i >= 0 && most > 0; i--)
        {
            long bottom = i == 0 ? 0 : probes[i - 1].End;
            while (top > bottom && most > 0)
            {
                long count = Math.Min(Math.Min(WriteBlocks, top - bottom), most);
                top -= count;
                most -= count;
                yield return new BlockRun(top, count);
            }

            top = i == 0 ? 0 : probes[i - 1].Start;
        }
    }
}
