using Cardassay.Agent.BlockIo;

namespace Cardassay.Agent.CapacityProof;

/// <summary>
/// The order in which a time budget is spent on further blocks: pieces of 1 MiB all over the range, the next always far
/// from the ones before, until none is left. A step of the golden section leaves the widest gaps filled first (Knuth, The
/// Art of Computer Programming 3, 6.4).
/// </summary>
internal static class SpreadFiller
{
    private const double GoldenSection = 0.618_033_988_749_895;

    /// <summary>The writes, in order.</summary>
    /// <param name="blocks">Blocks of the range.</param>
    /// <param name="taken">What was written already, ascending and without overlap.</param>
    public static IEnumerable<BlockRun> Writes(long blocks, IReadOnlyList<BlockRun> taken)
    {
        long pieces = (blocks + Eviction.WriteBlocks - 1) / Eviction.WriteBlocks;
        long step = Coprime((long)(pieces * GoldenSection), pieces);
        for (long i = 0; i < pieces; i++)
        {
            long start = (long)((Int128)i * step % pieces) * Eviction.WriteBlocks;
            foreach (BlockRun free in Free(new BlockRun(start, Math.Min(Eviction.WriteBlocks, blocks - start)), taken))
            {
                yield return free;
            }
        }
    }

    private static IEnumerable<BlockRun> Free(BlockRun piece, IReadOnlyList<BlockRun> taken)
    {
        int low = 0;
        int high = taken.Count;
        while (low < high)
        {
            int middle = (low + high) / 2;
            (low, high) = taken[middle].End <= piece.Start ? (middle + 1, high) : (low, middle);
        }

        long at = piece.Start;
        for (; low < taken.Count && taken[low].Start < piece.End; low++)
        {
            if (taken[low].Start > at)
            {
                yield return new BlockRun(at, taken[low].Start - at);
            }

            at = taken[low].End;
        }

        if (at < piece.End)
        {
            yield return new BlockRun(at, piece.End - at);
        }
    }

    private static long Coprime(long near, long number)
    {
        long step = Math.Max(1, near);
        while (Gcd(step, number) != 1)
        {
            step++;
        }

        return step;
    }

    private static long Gcd(long a, long b) => b == 0 ? a : Gcd(b, a % b);
}
