namespace Cardassay.Journal;

/// <summary>What the log knows of one of its segment files. Guarded by the log's append lock once the log is open.</summary>
internal sealed class Segment(SegmentName name, SegmentHeader? header)
{
    private const long IndexStepBytes = 64 << 10;
    private readonly List<(long Sequence, long Offset)> _index = [];

    public SegmentName Name { get; set; } = name;

    /// <summary>Null when it cannot be read.</summary>
    public SegmentHeader? Header { get; } = header;

    public LogEpoch Epoch => Name.Epoch;

    public long First => Name.First;

    /// <summary>Highest sequence in it, <see cref="First"/> - 1 while there is none.</summary>
    public long Last { get; set; } = name.First - 1;

    /// <summary>Where its readable part ends, bytes from the file's start.</summary>
    public long End { get; set; }

    /// <summary>Where its first record can begin.</summary>
    public long Start => Header is null ? 0 : SegmentHeader.Bytes;

    /// <summary>Notes where a record begins, once every 64 KiB, so that a reader need not start at the segment's begin.</summary>
    public void Index(long sequence, long offset)
    {
        if (offset - (_index.Count == 0 ? Start : _index[^1].Offset) >= IndexStepBytes)
        {
            _index.Add((sequence, offset));
        }
    }

    /// <summary>The best known place to begin looking for a sequence.</summary>
    public long OffsetBefore(long sequence)
    {
        for (int i = _index.Count - 1; i >= 0; i--)
        {
            if (_index[i].Sequence <= sequence)
            {
                return _index[i].Offset;
            }
        }

        return Start;
    }
}
