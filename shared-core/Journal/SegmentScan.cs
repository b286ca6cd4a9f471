namespace Cardassay.Journal;

/// <summary>What a full read of one segment found.</summary>
internal sealed class SegmentScan
{
    private readonly List<(long First, long Last)> _ranges = [];

    private SegmentScan()
    {
    }

    /// <summary>Runs of sequences that are there, ascending.</summary>
    public IReadOnlyList<(long First, long Last)> Ranges => _ranges;

    /// <summary>Notes in the order they were written.</summary>
    public List<LogNote> Notes { get; } = [];

    /// <summary>Unreadable bytes which a whole record follows, a damaged header's among them.</summary>
    public long HoleBytes { get; private set; }

    /// <summary>Unreadable bytes behind the last whole record.</summary>
    public long TailBytes { get; private set; }

    public bool IsSealed => Notes.Any(note => note.Kind == LogNoteKind.Sealed);

    /// <summary>Reads the file to its end and fills in what <paramref name="segment"/> should know of itself.</summary>
    public static SegmentScan Of(Segment segment, ILogFile file)
    {
        var scan = new SegmentScan();
        file.ForgetCache();
        var reader = new SegmentReader(file, segment.Epoch, segment.Start, file.Length);
        while (reader.Next())
        {
            if (reader.IsNote)
            {
                scan.Notes.AddRange(LogNote.Decode(reader.Payload()));
            }
            else
            {
                scan.Add(reader.Sequence);
                segment.Index(reader.Sequence, reader.Offset);
            }
        }

        scan.HoleBytes = reader.SkippedBytes;
        scan.TailBytes = reader.TailBytes;
        segment.End = reader.Position;
        segment.Last = scan._ranges.Count == 0 ? segment.First - 1 : scan._ranges[^1].Last;
        return scan;
    }

    private void Add(long sequence)
    {
        if (_ranges.Count > 0 && _ranges[^1].Last + 1 == sequence)
        {
            _ranges[^1] = (_ranges[^1].First, sequence);
        }
        else
        {
            _ranges.Add((sequence, sequence));
        }
    }
}
