using Cardassay.Agent.BlockIo;
using Cardassay.Trials;

namespace Cardassay.Agent.CapacityProof;

/// <summary>Turns single probes into ranges: between two probes of one outcome that outcome, between different ones "not probed".</summary>
internal static class ProbedRanges
{
    /// <param name="map">An empty map.</param>
    /// <param name="judged">The probes.</param>
    /// <param name="endBytes">End of the range.</param>
    /// <param name="periodBytes">Confirmed period of a card that takes addresses modulo it: what lies beyond
    /// has no place of its own.</param>
    public static void Fill(RangeMap map, SortedDictionary<long, JudgedBlock> judged, long endBytes, long? periodBytes)
    {
        if (periodBytes is { } period)
        {
            map.Add(0, period, BlockState.Kept);
            map.Add(period, endBytes, BlockState.Wrapped);
            return;
        }

        long at = 0;
        BlockState before = BlockState.NotProbed;
        foreach ((long block, JudgedBlock found) in judged)
        {
            long start = block * SectorTag.BlockBytes;
            if (start > at)
            {
                map.Add(at, start, before == found.State ? before : BlockState.NotProbed);
            }

            at = start + SectorTag.BlockBytes;
            before = found.State;
            map.Add(start, at, before);
        }

        if (at < endBytes)
        {
            map.Add(at, endBytes, BlockState.NotProbed);
        }
    }
}
