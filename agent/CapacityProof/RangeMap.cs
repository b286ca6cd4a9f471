using Cardassay.Trials;

namespace Cardassay.Agent.CapacityProof;

/// <summary>
/// Ranges of one outcome in address order, never more than a bound: when there are too many, the resolution is halved and a lost block
/// stands for its whole cell, so that losses may look larger than they are but never vanish.
/// </summary>
internal sealed class RangeMap(int most = RangeMap.Most)
{
    /// <summary>Ranges kept.</summary>
    public const int Most = 512;

    private List<ProofRange> _ranges = [];

    /// <summary>Resolution, bytes.</summary>
    public long GrainBytes { get; private set; } = ProofMeasured.BlockBytes;

    /// <summary>The ranges, up to an end.</summary>
    public IReadOnlyList<ProofRange> UpTo(long endBytes) =>
        [.. _ranges.Where(r => r.StartBytes < endBytes).Select(r => r with { EndBytes = Math.Min(r.EndBytes, endBytes) })];

    /// <summary>Takes over what an interrupted proof had.</summary>
    public void Restore(IReadOnlyList<ProofRange> ranges, long grainBytes)
    {
        GrainBytes = grainBytes;
        _ranges = [.. ranges];
    }

    /// <summary>Takes everything back from a place on.</summary>
    public void CutFrom(long startBytes) => _ranges = [.. UpTo(startBytes)];

    /// <summary>Appends a range behind all others.</summary>
    public void Add(long startBytes, long endBytes, BlockState state)
    {
        Append(_ranges, startBytes, endBytes, state);
        while (_ranges.Count > most)
        {
            GrainBytes *= 2;
            var coarser = new List<ProofRange>(most);
            foreach (ProofRange range in _ranges)
            {
                Append(coarser, range.StartBytes, range.EndBytes, range.State);
            }

            _ranges = coarser;
        }
    }

    private static bool IsLost(BlockState state) => state is not (BlockState.Kept or BlockState.NotProbed);

    private void Append(List<ProofRange> ranges, long start, long end, BlockState state)
    {
        if (IsLost(state))
        {
            start -= start % GrainBytes;
            end += (GrainBytes - (end % GrainBytes)) % GrainBytes;

            // A kept range gives way down to the edge of the cell.
            while (ranges.Count > 0 && ranges[^1].EndBytes > start && !IsLost(ranges[^1].State))
            {
                ranges[^1] = ranges[^1] with { EndBytes = start };
                if (ranges[^1].EndBytes > ranges[^1].StartBytes)
                {
                    break;
                }

                ranges.RemoveAt(ranges.Count - 1);
            }
        }

        start = ranges.Count > 0 ? Math.Max(start, ranges[^1].EndBytes) : start;
        if (start >= end)
        {
            return;
        }

        if (ranges.Count > 0 && ranges[^1].State == state && ranges[^1].EndBytes == start)
        {
            ranges[^1] = ranges[^1] with { EndBytes = end };
        }
        else
        {
            ranges.Add(new ProofRange(start, end, state));
        }
    }
}
