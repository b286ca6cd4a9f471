using Cardassay.Agent.BlockIo;

namespace Cardassay.Agent.CapacityProof;

/// <summary>
/// A set of blocks that mostly lie together. Adding is cheap where one follows the other, upwards or downwards; asking sorts first.
/// </summary>
internal sealed class BlockRanges
{
    private readonly List<BlockRun> _runs = [];
    private bool _isSorted = true;

    /// <summary>True without any block.</summary>
    public bool IsEmpty => _runs.Count == 0;

    /// <summary>The blocks in address order.</summary>
    public IReadOnlyList<BlockRun> Runs
    {
        get
        {
            Sort();
            return _runs;
        }
    }

    /// <summary>Adds whole blocks.</summary>
    public void Add(long offsetBytes, long lengthBytes) =>
        Add(new BlockRun(offsetBytes / SectorTag.BlockBytes, lengthBytes / SectorTag.BlockBytes));

    public void Add(BlockRun run)
    {
        if (_runs.Count > 0 && run.Start == _runs[^1].End)
        {
            _runs[^1] = _runs[^1] with { Count = _runs[^1].Count + run.Count };
        }
        else if (_runs.Count > 0 && run.End == _runs[^1].Start)
        {
            _runs[^1] = new BlockRun(run.Start, run.Count + _runs[^1].Count);
            _isSorted = _runs.Count == 1;
        }
        else
        {
            _isSorted &= _runs.Count == 0 || run.Start > _runs[^1].End;
            _runs.Add(run);
        }
    }

    public void Add(BlockRanges others)
    {
        foreach (BlockRun run in others._runs)
        {
            Add(run);
        }
    }

    public bool Contains(long block)
    {
        Sort();
        int low = 0;
        int high = _runs.Count - 1;
        while (low <= high)
        {
            int middle = (low + high) / 2;
            if (_runs[middle].End <= block)
            {
                low = middle + 1;
            }
            else if (_runs[middle].Start > block)
            {
                high = middle - 1;
            }
            else
            {
                return true;
            }
        }

        return false;
    }

    public void Clear()
    {
        _runs.Clear();
        _isSorted = true;
    }

    private void Sort()
    {
        if (_isSorted)
        {
            return;
        }

        BlockRun[] sorted = [.. _runs.OrderBy(r => r.Start)];
        _runs.Clear();
        foreach (BlockRun run in sorted)
        {
            if (_runs.Count > 0 && run.Start <= _runs[^1].End)
            {
                _runs[^1] = _runs[^1] with { Count = Math.Max(_runs[^1].End, run.End) - _runs[^1].Start };
            }
            else
            {
                _runs.Add(run);
            }
        }

        _isSorted = true;
    }
}

/// <summary>Adjacent blocks, by number.</summary>
/// <param name="Start">First block.</param>
/// <param name="Count">How many.</param>
internal readonly record struct BlockRun(long Start, long Count)
{
    /// <summary>First block behind it.</summary>
    public long End => Start + Count;
}
