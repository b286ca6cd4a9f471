namespace Cardassay.Journal;

/// <summary>
/// Walks the records of one segment between two offsets and steps over damage to the next record that is whole. It trusts no length
/// field, holds a bounded window of the file, and takes a record only if its sequence is above the ones before it, so that an old
/// sector which turns up again brings nothing back.
/// </summary>
internal sealed class SegmentReader(ILogFile file, LogEpoch epoch, long start, long end)
{
    private const int WindowBytes = 64 << 10;

    private readonly byte[] _epochBytes = epoch.ToBytes();
    private byte[] _window = [];
    private long _windowStart;
    private int _windowCount;
    private long _highestSequence;
    private RecordHead _head;

    /// <summary>Where the record that <see cref="Next"/> found begins.</summary>
    public long Offset { get; private set; }

    /// <summary>Where it ends; after a <see cref="Next"/> that found none, where the last one ended.</summary>
    public long Position { get; private set; } = start;

    /// <summary>Bytes that belong to no record, passed over so far.</summary>
    public long SkippedBytes { get; private set; }

    /// <summary>Bytes behind the last record.</summary>
    public long TailBytes => end - Position;

    public long Sequence => _head.Sequence;

    public bool IsNote => _head.Sequence == 0;

    /// <summary>Goes to the next whole record; false when none follows.</summary>
    public bool Next()
    {
        long found = IsRecordAt(Position) ? Position : FindRecordAfter(Position);
        if (found < 0)
        {
            return false;
        }

        SkippedBytes += found - Position;
        Offset = found;
        Position = found + RecordFormat.SizeOf(_head.PayloadBytes);
        _highestSequence = Math.Max(_highestSequence, _head.Sequence);
        return true;
    }

    /// <summary>A copy of the current record's payload.</summary>
    public byte[] Payload() =>
        View(Offset, RecordFormat.SizeOf(_head.PayloadBytes)).Slice(RecordFormat.HeadBytes, _head.PayloadBytes).ToArray();

    /// <summary>The current record, copied.</summary>
    public LogRecord Record() => new()
    {
        Epoch = epoch,
        Sequence = _head.Sequence,
        SchemaVersion = _head.SchemaVersion,
        Stamp = _head.Stamp,
        Payload = Payload(),
    };

    private long FindRecordAfter(long damaged)
    {
        long at = damaged + 1 + RecordFormat.EpochOffset;
        while (at + _epochBytes.Length <= end)
        {
            ReadOnlySpan<byte> view = View(at, _epochBytes.Length);
            if (view.Length < _epochBytes.Length)
            {
                break;
            }

            int index = view.IndexOf(_epochBytes);
            if (index < 0)
            {
                at += view.Length - _epochBytes.Length + 1;
                continue;
            }

            long candidate = at + index - RecordFormat.EpochOffset;
            if (IsRecordAt(candidate))
            {
                return candidate;
            }

            at += index + 1;
        }

        return -1;
    }

    private bool IsRecordAt(long offset)
    {
        if (end - offset < RecordFormat.OverheadBytes)
        {
            return false;
        }

        ReadOnlySpan<byte> view = View(offset, RecordFormat.OverheadBytes);
        if (view.Length < RecordFormat.OverheadBytes)
        {
            return false;
        }

        RecordHead head = RecordFormat.DecodeHead(view);
        if (head.PayloadBytes is < 0 or > RecordFormat.MaxPayloadBytes || head.Epoch != epoch
            || (head.Sequence != 0 && head.Sequence <= _highestSequence))
        {
            return false;
        }

        int size = RecordFormat.SizeOf(head.PayloadBytes);
        if (end - offset < size)
        {
            return false;
        }

        view = View(offset, size);
        if (view.Length < size || !RecordFormat.HasValidSum(view[..size]))
        {
            return false;
        }

        _head = head;
        return true;
    }

    /// <summary>All that is at hand from an offset on: at least the count asked for, unless the file ends before.</summary>
    private ReadOnlySpan<byte> View(long offset, int count)
    {
        if (offset < _windowStart || offset + count > _windowStart + _windowCount)
        {
            int wanted = (int)Math.Min(Math.Max(count, WindowBytes), end - offset);
            if (_window.Length < wanted)
            {
                _window = new byte[wanted];
            }

            _windowStart = offset;
            _windowCount = file.Read(offset, _window.AsSpan(0, wanted));
        }

        int skip = (int)(offset - _windowStart);
        return _window.AsSpan(skip, _windowCount - skip);
    }
}
