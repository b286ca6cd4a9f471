namespace Cardassay.Journal;

/// <summary>
/// The segment that is being written. Its caller serialises all calls; only <see cref="Sync"/> may run beside the others.
/// </summary>
internal sealed class SegmentWriter : IDisposable
{
    // A note record stays small, whatever there is to remember.
    private const int NotesPerRecord = 1000;

    private readonly ILogDisk _disk;
    private readonly ILogFile _file;
    private readonly long _contentStart;
    private readonly List<(long Sequence, long Offset)> _takenRecords = [];
    private byte[] _buffer = new byte[4096];
    private int _taken;

    private SegmentWriter(ILogDisk disk, ILogFile file, Segment segment, long contentStart)
    {
        _disk = disk;
        _file = file;
        Segment = segment;
        _contentStart = contentStart;
    }

    public Segment Segment { get; }

    /// <summary>Where the next record goes, bytes from the file's start.</summary>
    public long Position => Segment.End;

    /// <summary>Nothing has been written behind the header and its notes.</summary>
    public bool IsFresh => Position == _contentStart;

    /// <summary>
    /// Makes a segment. It gets its final name only when its header is durable, so a header that is not whole is always damage and never
    /// an interrupted creation.
    /// </summary>
    /// <exception cref="LogDiskFullException">No room; nothing is left behind.</exception>
    /// <exception cref="LogFsyncException">Not durable.</exception>
    public static SegmentWriter Create(ILogDisk disk, SegmentHeader header, IEnumerable<LogNote> notes)
    {
        var segment = new Segment(new SegmentName(header.Ordinal, header.Epoch, header.First), header);
        string name = segment.Name.ToString();
        string unfinished = name + SegmentName.UnfinishedEnding;
        ILogFile? file = null;
        try
        {
            file = disk.Create(unfinished);
            byte[] start = Start(header, notes);
            file.Write(0, start);
            MakeDurable(disk, file.Sync);
            disk.Rename(unfinished, name);
            MakeDurable(disk, disk.SyncFolder);
            segment.End = start.Length;
            return new SegmentWriter(disk, file, segment, start.Length);
        }
        catch (IOException failed)
        {
            file?.Dispose();
            if (failed is not LogFsyncException)
            {
                TryDelete(disk, unfinished);
            }

            throw;
        }
    }

    /// <summary>Goes on behind the last record of a segment that ends there.</summary>
    public static SegmentWriter Continue(ILogDisk disk, Segment segment) =>
        new(disk, disk.Open(segment.Name.ToString(), writable: true), segment, segment.Start);

    /// <summary>Takes up a record for the next <see cref="WriteTaken"/>.</summary>
    public void Take(in RecordHead head, ReadOnlySpan<byte> payload)
    {
        int size = RecordFormat.SizeOf(payload.Length);
        if (_buffer.Length < _taken + size)
        {
            Array.Resize(ref _buffer, Math.Max(_taken + size, 2 * _buffer.Length));
        }

        if (head.Sequence > 0)
        {
            _takenRecords.Add((head.Sequence, Position + _taken));
        }

        _taken += RecordFormat.Encode(_buffer.AsSpan(_taken), head, payload);
    }

    /// <summary>Writes what was taken up to the cache, in one piece.</summary>
    /// <exception cref="IOException">Nothing was written, as far as any reader can tell, and nothing is taken up any more.</exception>
    public void WriteTaken()
    {
        try
        {
            _file.Write(Position, _buffer.AsSpan(0, _taken));
            foreach ((long sequence, long offset) in _takenRecords)
            {
                Segment.Index(sequence, offset);
                Segment.Last = sequence;
            }

            Segment.End += _taken;
        }
        catch (IOException)
        {
            TryTruncate();
            throw;
        }
        finally
        {
            _taken = 0;
            _takenRecords.Clear();
        }
    }

    /// <summary>Writes what the log remembers for itself.</summary>
    public void Write(params IReadOnlyList<LogNote> notes)
    {
        foreach (LogNote[] part in notes.Chunk(NotesPerRecord))
        {
            Take(NoteHead(Segment.Epoch), LogNote.Encode(part));
        }

        WriteTaken();
    }

    /// <exception cref="LogFsyncException">What was written may be lost.</exception>
    public void Sync() => MakeDurable(_disk, _file.Sync);

    /// <summary>Whether the file is still the one at its path.</summary>
    public bool IsInPlace(long durableBytes) => _disk.IsInPlace(Segment.Name.ToString(), _file, durableBytes);

    /// <summary>The file being written, for a reader that no longer finds it by its name; disposing the result leaves it open.</summary>
    public ILogFile ForReading() => new Borrowed(_file);

    public void Dispose() => _file.Dispose();

    private static RecordHead NoteHead(LogEpoch epoch) => new(0, LogNote.SchemaVersion, epoch, 0, default);

    private static byte[] Start(SegmentHeader header, IEnumerable<LogNote> notes)
    {
        byte[][] payloads = [.. notes.Chunk(NotesPerRecord).Select(part => LogNote.Encode(part))];
        byte[] start = new byte[SegmentHeader.Bytes + payloads.Sum(payload => RecordFormat.SizeOf(payload.Length))];
        header.CopyTo(start);
        int at = SegmentHeader.Bytes;
        foreach (byte[] payload in payloads)
        {
            at += RecordFormat.Encode(start.AsSpan(at), NoteHead(header.Epoch), payload);
        }

        return start;
    }

    private static void MakeDurable(ILogDisk disk, Action sync)
    {
        try
        {
            sync();
        }
        catch (IOException error)
        {
            throw new LogFsyncException(disk.Name, error);
        }
    }

    private static void TryDelete(ILogDisk disk, string name)
    {
        try
        {
            disk.Delete(name);
        }
        catch (IOException)
        {
            // The next opening deletes it.
        }
    }

    private sealed class Borrowed(ILogFile file) : ILogFile
    {
        public long Length => file.Length;

        public int Read(long offset, Span<byte> buffer) => file.Read(offset, buffer);

        public void Write(long offset, ReadOnlySpan<byte> bytes) => throw new NotSupportedException("It is for reading.");

        public void Truncate(long length) => throw new NotSupportedException("It is for reading.");

        public void Sync() => throw new NotSupportedException("It is for reading.");

        public void ForgetCache()
        {
        }

        public void Dispose()
        {
        }
    }

    private void TryTruncate()
    {
        try
        {
            _file.Truncate(Position);
        }
        catch (IOException)
        {
            // The next record goes over the remains; a reader takes them for none.
        }
    }
}
