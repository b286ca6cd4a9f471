using Cardassay.Agent.BlockIo;
using Cardassay.Trials;

namespace Cardassay.Agent.CapacityProof;

/// <summary>Lost blocks that lie together: where they begin and end.</summary>
internal static class LostStretches
{
    /// <summary>Changes between kept and lost up to which the losses count as stretches.</summary>
    private const int ChangesAtMost = 8;

    /// <summary>Changes around one stretch: from kept to lost and back.</summary>
    private const int ChangesOfOneStretch = 2;

    /// <summary>
    /// Finds the boundaries to the block: every block between two probes of different outcome is probed in one more round. (A bisection
    /// would need fewer probes, but an eviction for each step.)
    /// </summary>
    /// <param name="judged">The probes; those of the new round are added.</param>
    /// <param name="round">Writes and reads runs of blocks.</param>
    /// <returns>
    /// Bytes kept; null when the losses are not one stretch, or blocks hold the content of others: then which of them have a place cannot
    /// be told.
    /// </returns>
    public static long? Refine(
        SortedDictionary<long, JudgedBlock> judged, Func<IReadOnlyList<BlockRun>, SortedDictionary<long, JudgedBlock>> round)
    {
        if (Changes(judged) > ChangesAtMost)
        {
            return null;
        }

        BlockRun[] gaps = [.. Gaps(judged)];
        if (gaps.Length > 0)
        {
            foreach ((long block, JudgedBlock found) in round(gaps))
            {
                judged[block] = found;
            }
        }

        return Changes(judged) > ChangesOfOneStretch || judged.Values.Any(j => j.State is BlockState.Wrapped or BlockState.NotJudged)
            ? null
            : KeptBytes(judged);
    }

    /// <summary>
    /// True when the losses are whole stretches: few of them, and the last reaches the end or they are longer than a probe.
    /// </summary>
    public static bool AreFew(SortedDictionary<long, JudgedBlock> judged, long blocks)
    {
        int changes = Changes(judged);
        int lost = judged.Values.Count(j => j.IsLost);
        bool reachesEnd = judged.TryGetValue(blocks - 1, out JudgedBlock last) && last.IsLost;
        return changes <= ChangesAtMost && (reachesEnd || lost >= changes);
    }

    /// <summary>The first block of the stretch that is lost up to the end; null when the end was kept, or was not probed.</summary>
    public static long? LostToEndFrom(SortedDictionary<long, JudgedBlock> judged, long blocks)
    {
        if (!judged.TryGetValue(blocks - 1, out JudgedBlock last) || last.IsStored)
        {
            return null;
        }

        long? from = null;
        foreach ((long block, JudgedBlock found) in judged)
        {
            from = found.IsStored ? null : from ?? (found.IsLost ? block : null);
        }

        return from;
    }

    private static int Changes(SortedDictionary<long, JudgedBlock> judged)
    {
        int changes = 0;
        bool isKept = true;
        foreach (JudgedBlock block in judged.Values.Where(j => j.State != BlockState.NotJudged))
        {
            changes += block.IsKept == isKept ? 0 : 1;
            isKept = block.IsKept;
        }

        return changes;
    }

    private static IEnumerable<BlockRun> Gaps(SortedDictionary<long, JudgedBlock> judged)
    {
        (long Block, bool IsKept)? before = null;
        foreach ((long block, JudgedBlock found) in judged.Where(j => j.Value.State != BlockState.NotJudged))
        {
            if (before is { } last && last.IsKept != found.IsKept && block > last.Block + 1)
            {
                yield return new BlockRun(last.Block + 1, block - last.Block - 1);
            }

            before = (block, found.IsKept);
        }
    }

    /// <summary>Blocks up to the next change are as the probe before them.</summary>
    private static long KeptBytes(SortedDictionary<long, JudgedBlock> judged)
    {
        long kept = 0;
        (long Block, bool IsKept)? before = null;
        foreach ((long block, JudgedBlock found) in judged)
        {
            kept += before is { IsKept: true } last ? block - last.Block : 0;
            before = (block, found.IsKept);
        }

        return SectorTag.BlockBytes * (kept + (before is { IsKept: true } ? 1 : 0));
    }
}
