namespace Cardassay.Journal;

/// <summary>
/// An append-only log of records in one folder: the agent's journal and the collector's intake log. Records are durable after
/// <see cref="Flush"/>, and only durable ones are ever read. One process has it open; within it every member may be called from any
/// thread. FORMAT.md describes the files.
/// </summary>
public sealed class RecordLog : IDisposable
{
    private const long DefaultMaxBytes = 2L << 30;
    private const int DefaultShareOfFree = 5;

    // Order: _syncGate before _appendGate. Only one fsync runs at a time: two at once on one file could share out one error, and the
    // one that saw none would believe its data stored.
    private readonly Lock _syncGate = new();
    private readonly Lock _appendGate = new();

    private readonly ILogDisk _disk;
    private readonly IDisposable _folderLock;
    private readonly LogOptions _options;
    private readonly long _maxBytes;
    private readonly List<Segment> _segments;
    private readonly LossLedger _ledger;
    private readonly LogEpoch _epoch;
    private SegmentWriter? _writer;
    private Segment? _cutPending;
    private (LogEpoch Epoch, long Last) _previous;
    private long _lastSequence;
    private long _durableSequence;
    private long _durableEnd;
    private long _usedBytes;
    private volatile LogFsyncException? _poison;
    private volatile bool _disposed;

    private RecordLog(ILogDisk disk, IDisposable folderLock, LogOptions options, LogRecovery recovery)
    {
        _disk = disk;
        _folderLock = folderLock;
        _options = options;
        _segments = recovery.Segments;
        _ledger = recovery.Ledger;
        _cutPending = recovery.CutPending;
        _usedBytes = _segments.Sum(segment => segment.End);
        _maxBytes = options.MaxBytes ?? Math.Min(DefaultMaxBytes, (disk.FreeBytes + _usedBytes) / DefaultShareOfFree);
        Segment? newest = _segments.LastOrDefault();
        if (newest is not null && recovery.NewEpochReason is null)
        {
            _epoch = newest.Epoch;
            _lastSequence = _durableSequence = newest.Last;
            _durableEnd = newest.End;
            _writer = SegmentWriter.Continue(disk, newest);
        }
        else
        {
            _epoch = options.NewEpoch();
            _previous = (newest?.Epoch ?? default, newest?.Last ?? 0);
            if (_epoch == default || _segments.Any(segment => segment.Epoch == _epoch))
            {
                throw new InvalidOperationException("LogOptions.NewEpoch gave an epoch that is already in use; it must be random.");
            }
        }

        Recovery = new RecoveryReport
        {
            Cuts = recovery.Cuts,
            SetAside = recovery.SetAside,
            LostRanges = _ledger.Lost,
            OldEpochs = [.. _segments.Select(segment => segment.Epoch).Distinct().Where(epoch => epoch != _epoch)],
            NewEpochReason = recovery.NewEpochReason,
        };
    }

    /// <summary>What opening found and did.</summary>
    public RecoveryReport Recovery { get; }

    /// <summary>The epoch that is being written. It does not change while the log is open.</summary>
    public LogEpoch Epoch => _epoch;

    /// <summary>The highest sequence appended in <see cref="Epoch"/>, 0 before the first.</summary>
    public long LastSequence => Volatile.Read(ref _lastSequence);

    /// <summary>The highest sequence known to be on disk in <see cref="Epoch"/>, 0 before the first.</summary>
    public long DurableSequence => Volatile.Read(ref _durableSequence);

    /// <summary>What the segments take, damaged ones included, bytes.</summary>
    public long UsedBytes => Volatile.Read(ref _usedBytes);

    /// <summary>How much of what the log may take is taken, 0 to 1: of its limit, or of the disk where that has less to give.</summary>
    public double Fullness
    {
        get
        {
            long used = UsedBytes;
            long reachable = used + _disk.FreeBytes;
            long capacity = _maxBytes == 0 ? reachable : Math.Min(_maxBytes, reachable);
            return capacity == 0 ? 1 : Math.Min(1, (double)used / capacity);
        }
    }

    /// <summary>
    /// Records that are gone and not acknowledged: those of <see cref="Recovery"/> and any a <see cref="Read"/> came upon since.
    /// </summary>
    public IReadOnlyList<LostRange> LostRanges
    {
        get
        {
            lock (_appendGate)
            {
                return _ledger.Lost;
            }
        }
    }

    /// <summary>
    /// Opens the log of a folder, or begins one. Whatever state the folder is in, it recovers what can be read and reports the rest.
    /// </summary>
    /// <exception cref="LogInUseException">Another process has it.</exception>
    /// <exception cref="LogFormatException">A newer version wrote it.</exception>
    /// <exception cref="LogFsyncException">The disk does not store what is written to it.</exception>
    /// <exception cref="IOException">The folder cannot be read or written.</exception>
    public static RecordLog Open(ILogDisk disk, LogOptions options)
    {
        options.Validate();
        IDisposable folderLock = disk.Lock();
        RecordLog? log = null;
        try
        {
            log = new RecordLog(disk, folderLock, options, LogRecovery.Run(disk, options.VerifyAtOpenBytes));
            log.Start();
            return log;
        }
        catch
        {
            log?._writer?.Dispose();
            folderLock.Dispose();
            throw;
        }
    }

    /// <summary>Writes a record to the cache and returns its sequence. It is durable, and can be read, after the next <see cref="Flush"/>.</summary>
    /// <exception cref="ArgumentException">The payload is longer than the options allow.</exception>
    /// <exception cref="LogDiskFullException">No room, or the log's limit is reached; nothing was written, a later call may succeed.</exception>
    /// <exception cref="LogFsyncException">An fsync failed, now or before.</exception>
    public long Append(LogStamp stamp, ReadOnlySpan<byte> payload)
    {
        if (payload.Length > _options.MaxPayloadBytes)
        {
            throw new ArgumentException($"A record of {payload.Length} bytes is longer than the {_options.MaxPayloadBytes} allowed.", nameof(payload));
        }

        int size = RecordFormat.SizeOf(payload.Length);
        lock (_appendGate)
        {
            ThrowIfUnusable();
            if (Fits(size))
            {
                return AppendHere(stamp, payload);
            }
        }

        lock (_syncGate)
        {
            lock (_appendGate)
            {
                ThrowIfUnusable();
                MakeRoom(size);
                return AppendHere(stamp, payload);
            }
        }
    }

    /// <summary>Makes every record appended before the call durable. Other threads may go on appending meanwhile.</summary>
    /// <exception cref="LogFsyncException">The disk failed. The log is unusable from here on and the process must end.</exception>
    public void Flush()
    {
        lock (_syncGate)
        {
            FlushHoldingSync();
        }
    }

    /// <summary>
    /// The durable records of an epoch from a sequence on, ascending, up to the last that is durable when the reader gets there.
    /// Records that cannot be read are left out and entered in <see cref="LostRanges"/>.
    /// </summary>
    public IEnumerable<LogRecord> Read(LogEpoch epoch, long fromSequence)
    {
        long next = Math.Max(1, fromSequence);
        while (FindReadable(epoch, next) is { } part)
        {
            using ILogFile? file = OpenForReading(part.Segment);
            if (file is not null)
            {
                var reader = new SegmentReader(file, epoch, part.Start, part.End);
                while (reader.Next())
                {
                    if (reader.Sequence < next)
                    {
                        continue;
                    }

                    LogRecord record = reader.Record();
                    NoteUnreadable(part.Segment, next, record.Sequence - 1);
                    next = record.Sequence + 1;
                    yield return record;
                }
            }

            NoteUnreadable(part.Segment, next, part.Last);
            next = Math.Max(next, part.Last + 1);
        }
    }

    /// <summary>
    /// What the log holds, oldest epoch first and the current one last, which is there even when it is empty (first 1, last 0): the
    /// sequences between which durable records lie.
    /// </summary>
    public IReadOnlyList<(LogEpoch Epoch, long First, long Last)> Epochs()
    {
        lock (_appendGate)
        {
            ThrowIfUnusable();
            List<(LogEpoch Epoch, long First, long Last)> epochs = [];
            foreach (IGrouping<LogEpoch, Segment> group in _segments.GroupBy(segment => segment.Epoch))
            {
                long last = DurableLast(group.Key);
                long first = group.Min(segment => segment.First);
                if (first <= last || group.Key == _epoch)
                {
                    epochs.Add((group.Key, first, last));
                }
            }

            if (_segments.All(segment => segment.Epoch != _epoch))
            {
                epochs.Add((_epoch, 1, 0));
            }

            return epochs;
        }
    }

    /// <summary>
    /// Remembers that everything of an epoch up to a sequence is safe elsewhere, and deletes segments that hold nothing else, never the
    /// newest. The mark is durable after the next <see cref="Flush"/>; losing it only means sending again. A sequence beyond what is durable
    /// here counts as the last that is, and an epoch the log no longer holds is ignored: a receipt for records this log
    /// never wrote is the caller's to report.
    /// </summary>
    /// <exception cref="LogFsyncException">An fsync failed, now or before.</exception>
    public void Release(LogEpoch epoch, long throughSequence)
    {
        lock (_syncGate)
        {
            lock (_appendGate)
            {
                ThrowIfUnusable();
                long through = Math.Min(throughSequence, DurableLast(epoch));
                if (through <= _ledger.ReleasedThrough(epoch))
                {
                    return;
                }

                _ledger.Release(epoch, through);
                var note = new LogNote(LogNoteKind.Released, epoch, through, 0);
                bool noted = TryNote(note);
                if (!_segments.Any(IsSpent))
                {
                    return;
                }

                if (noted)
                {
                    FlushHoldingSync();
                }

                DeleteSpent();
                if (!noted)
                {
                    // The disk was full, which deleting may have changed.
                    TryNote(note);
                }
            }
        }
    }

    /// <summary>How far an epoch has been released; 0 for none of it, or when nothing of it is left to be asked about.</summary>
    public long ReleasedThrough(LogEpoch epoch)
    {
        lock (_appendGate)
        {
            return _ledger.ReleasedThrough(epoch);
        }
    }

    /// <summary>
    /// Remembers that a loss has been reported in a record of its own, so that it is not listed again. Durable after the next
    /// <see cref="Flush"/>, together with that record if that was appended before.
    /// </summary>
    public void AcknowledgeLost(LostRange range)
    {
        lock (_syncGate)
        {
            lock (_appendGate)
            {
                ThrowIfUnusable();
                _ledger.Acknowledge(range.Epoch, range.First, range.Last);
                TryNote(new LogNote(LogNoteKind.LossAcknowledged, range.Epoch, range.First, range.Last));
            }
        }
    }

    /// <summary>Closes the files and lets the folder go. It does not flush: what was not flushed may or may not be there next time.</summary>
    public void Dispose()
    {
        lock (_syncGate)
        {
            lock (_appendGate)
            {
                if (_disposed)
                {
                    return;
                }

                _disposed = true;
                _writer?.Dispose();
                _folderLock.Dispose();
            }
        }
    }

    private void Start()
    {
        try
        {
            if (_writer is null)
            {
                BeginSegment();
            }
        }
        catch (LogDiskFullException)
        {
            // A full disk must not keep the board from starting: what is there can be read, and Append tries again.
        }

        DeleteSpent();
    }

    private void ThrowIfUnusable()
    {
        ObjectDisposedException.ThrowIf(_disposed, this);
        if (_poison is { } first)
        {
            throw new LogFsyncException(_disk.Name, first.InnerException!);
        }
    }

    private bool Fits(int size) => _writer is not null && (_writer.IsFresh || _writer.Position + size <= _options.SegmentBytes);

    private long AppendHere(LogStamp stamp, ReadOnlySpan<byte> payload)
    {
        int size = RecordFormat.SizeOf(payload.Length);
        if (_maxBytes > 0 && _usedBytes + size > _maxBytes)
        {
            throw new LogDiskFullException($"The log in {_disk.Name} has reached its limit of {_maxBytes} bytes; it goes on when receipts free some.");
        }

        long sequence = _lastSequence + 1;
        _writer!.Write(new RecordHead(payload.Length, _options.SchemaVersion, _epoch, sequence, stamp), payload);
        Volatile.Write(ref _usedBytes, _usedBytes + size);
        Volatile.Write(ref _lastSequence, sequence);
        return sequence;
    }

    /// <summary>Ends the segment, if there is one, and begins the next. Needs both gates.</summary>
    private void MakeRoom(int size)
    {
        if (Fits(size))
        {
            return;
        }

        if (_writer is not null)
        {
            long before = _writer.Position;
            _writer.Write(new LogNote(LogNoteKind.Sealed, _epoch, _writer.Segment.Name.Ordinal + 1, 0));
            Volatile.Write(ref _usedBytes, _usedBytes + _writer.Position - before);
            FlushHoldingSync();
            _writer.Dispose();
            _writer = null;
            _previous = (_epoch, _lastSequence);
        }

        BeginSegment();
    }

    private void BeginSegment()
    {
        _ledger.KeepOnly(_segments.Select(segment => segment.Epoch)
            .Concat(_segments.Select(segment => segment.Header?.PreviousEpoch ?? default)).Append(_epoch).Append(_previous.Epoch).ToHashSet());
        long ordinal = (_segments.Count == 0 ? 0 : _segments[^1].Name.Ordinal) + 1;
        var header = new SegmentHeader(ordinal, _epoch, _lastSequence + 1, _previous.Epoch, _previous.Last);
        PoisonOnFailure(() => _writer = SegmentWriter.Create(_disk, header, _ledger.Notes()));
        _segments.Add(_writer!.Segment);
        Volatile.Write(ref _usedBytes, _usedBytes + _writer.Position);
        _durableEnd = _writer.Position;
        CutIfPending();
    }

    private void CutIfPending()
    {
        try
        {
            if (_cutPending is { } segment)
            {
                _cutPending = null;
                LogRecovery.Truncate(_disk, segment);
            }
        }
        catch (IOException)
        {
            // The header of the new segment says where the old one ends; the next opening cuts it.
        }
    }

    private void FlushHoldingSync()
    {
        SegmentWriter? writer;
        long end;
        long sequence;
        lock (_appendGate)
        {
            ThrowIfUnusable();
            writer = _writer;
            end = writer?.Position ?? 0;
            sequence = _lastSequence;
            if (writer is null || end == _durableEnd)
            {
                return;
            }
        }

        PoisonOnFailure(writer.Sync);
        lock (_appendGate)
        {
            _durableEnd = end;
            Volatile.Write(ref _durableSequence, sequence);
        }
    }

    private void PoisonOnFailure(Action action)
    {
        try
        {
            action();
        }
        catch (LogFsyncException failed)
        {
            _poison = failed;
            throw;
        }
    }

    /// <summary>Writes a note if there is room; without it the log is as right as before, only less informed. Needs both gates.</summary>
    private bool TryNote(LogNote note)
    {
        try
        {
            int size = RecordFormat.SizeOf(LogNote.Encode([note]).Length);
            if (Fits(size))
            {
                _writer!.Write(note);
                Volatile.Write(ref _usedBytes, _usedBytes + size);
            }
            else
            {
                MakeRoom(size); // A new segment begins with all notes, this one included.
            }

            return true;
        }
        catch (LogDiskFullException)
        {
            return false;
        }
    }

    private long DurableLast(LogEpoch epoch) => epoch == _epoch
        ? _durableSequence
        : _segments.Where(segment => segment.Epoch == epoch).Select(segment => segment.Last).DefaultIfEmpty(0).Max();

    /// <summary>Damaged segments are kept as evidence until a limited log needs the room.</summary>
    private bool IsSpent(Segment segment) => segment != _segments[^1]
        && segment.Last <= _ledger.ReleasedThrough(segment.Epoch)
        && (!segment.Name.Damaged || (_maxBytes > 0 && _usedBytes > _maxBytes / 2));

    private void DeleteSpent()
    {
        foreach (Segment segment in _segments.Where(IsSpent).ToList())
        {
            _disk.Delete(segment.Name.ToString());
            _segments.Remove(segment);
            Volatile.Write(ref _usedBytes, _usedBytes - segment.End);
        }
    }

    private (Segment Segment, long Start, long End, long Last)? FindReadable(LogEpoch epoch, long next)
    {
        lock (_appendGate)
        {
            ThrowIfUnusable();
            foreach (Segment segment in _segments.Where(segment => segment.Epoch == epoch))
            {
                bool isCurrent = segment == _writer?.Segment;
                long last = isCurrent ? _durableSequence : segment.Last;
                if (last >= next)
                {
                    return (segment, segment.OffsetBefore(next), isCurrent ? _durableEnd : segment.End, last);
                }
            }

            return null;
        }
    }

    /// <summary>Null when the segment was released and deleted meanwhile, or is gone without that.</summary>
    private ILogFile? OpenForReading(Segment segment)
    {
        try
        {
            return _disk.Open(segment.Name.ToString(), writable: false);
        }
        catch (FileNotFoundException)
        {
            return null;
        }
    }

    private void NoteUnreadable(Segment segment, long first, long last)
    {
        if (first <= last)
        {
            lock (_appendGate)
            {
                _ledger.Report(segment.Epoch, first, last, $"They cannot be read in the segment {segment.Name}.");
            }
        }
    }
}
