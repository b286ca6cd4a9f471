using Cardassay.Agent.BlockIo;
using Cardassay.Agent.Trials;

namespace Cardassay.Agent.CapacityProof;

/// <summary>
/// Which blocks a sparse proof of a card of C bytes probes. With a run of L blocks at the start and a block at every multiple of L, a card
/// that takes addresses modulo any R is found for certain: the first multiple kL not below R lands at kL - R &lt; L, inside the run, which
/// is written after it; for R &lt; L the run goes over itself. L = sqrt(C b) costs least. The run has one block more than L, so that a
/// block landing across a block boundary (R no multiple of 4,096) lies inside it too. Everything else is left to random probes, one in each
/// of equal strata, and the bound rests on these alone.
/// </summary>
internal sealed class SparsePlan
{
    /// <summary>Plans the probes.</summary>
    /// <param name="sizeBytes">Bytes of the range; whole blocks count.</param>
    /// <param name="options">Sizes.</param>
    /// <param name="seed">Random probes follow from it.</param>
    public SparsePlan(long sizeBytes, SparseOptions options, ulong seed)
    {
        Blocks = sizeBytes / SectorTag.BlockBytes;
        ArgumentOutOfRangeException.ThrowIfLessThan(Blocks, 1, nameof(sizeBytes));
        Step = (long)Math.Ceiling(Math.Sqrt(Blocks));
        Run = new BlockRun(0, Math.Min(Blocks, Step + 1));
        Random = Strata(Blocks, options.RandomProbes, SplitSeed.Of(seed, 0));

        var lattice = new SortedSet<long>();
        for (long block = Step; block < Blocks; block += Step)
        {
            lattice.Add(block);
        }

        lattice.Add(Blocks - 1);
        lattice.RemoveWhere(block => block < Run.End);
        var all = new SortedSet<long>(lattice);
        all.UnionWith(Edges(Blocks, options).Where(block => block >= Run.End));
        EdgeProbes = all.Count - lattice.Count;
        all.UnionWith(Random.Where(block => block >= Run.End));
        HighToLow = [.. all.Reverse()];
        LatticeBlocks = Run.Count + lattice.Count;
        IsLattice = lattice;
    }

    /// <summary>Blocks of the range.</summary>
    public long Blocks { get; }

    /// <summary>L, in blocks.</summary>
    public long Step { get; }

    /// <summary>The run at the start.</summary>
    public BlockRun Run { get; }

    /// <summary>All other probes, highest first: the order of writing and of reading.</summary>
    public IReadOnlyList<long> HighToLow { get; }

    /// <summary>The random probes, ascending; some may be probes of another kind as well.</summary>
    public IReadOnlyList<long> Random { get; }

    /// <summary>The multiples and the last block, as far as outside the run.</summary>
    public IReadOnlySet<long> IsLattice { get; }

    /// <summary>Blocks of run and multiples.</summary>
    public long LatticeBlocks { get; }

    /// <summary>Blocks probed only because they lie at the edge of an allocation unit.</summary>
    public int EdgeProbes { get; }

    /// <summary>One random block in each of equal strata, ascending.</summary>
    public static IReadOnlyList<long> Strata(long blocks, int probes, ulong seed)
    {
        var random = new SeededSequence(seed);
        long count = Math.Min(probes, blocks);
        var found = new long[count];
        for (long i = 0; i < count; i++)
        {
            long start = (long)((Int128)blocks * i / count);
            long end = (long)((Int128)blocks * (i + 1) / count);
            found[i] = start + random.Below(end - start);
        }

        return found;
    }

    /// <summary>The blocks on both sides of evenly sampled unit boundaries.</summary>
    private static IEnumerable<long> Edges(long blocks, SparseOptions options)
    {
        long unit = Math.Max(1, options.UnitBytes / SectorTag.BlockBytes);
        long boundaries = (blocks - 1) / unit;
        long sampled = Math.Min(boundaries, options.EdgeProbesAtMost / 2);
        for (long i = 0; i < sampled; i++)
        {
            long boundary = (1 + (long)((Int128)boundaries * i / sampled)) * unit;
            yield return boundary - 1;
            yield return boundary;
        }
    }
}
