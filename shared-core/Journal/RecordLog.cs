namespace Cardassay.Journal;

/// <summary>
/// An append-only log of records in one folder: the agent's journal and the collector's intake log. Records are durable after
/// <see cref="Flush"/>, and only durable ones are ever read. One process has it open; within it every member may be called from any
/// thread. FORMAT.md describes the files.
/// </summary>
public sealed partial class RecordLog : IDisposable
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
    private readonly TaskCompletionSource<LogFsyncException> _failed = new(TaskCreationOptions.RunContinuationsAsynchronously);
    private SegmentWriter? _writer;
    private Segment? _cutPending;
    private (LogEpoch Epoch, long Last) _previous;
    private long _lastSequence;
    private long _durableSequence;
    private long _durableEnd;
    private long _usedBytes;
    private volatile LogFsyncException? _poison;
    private volatile bool _disposed;
    private readonly bool _isForReading;
    private volatile bool _isMoved;

    private RecordLog(ILogDisk disk, IDisposable folderLock, LogOptions options, LogRecovery recovery, bool isForReading = false)
    {
        _isForReading = isForReading;
        _disk = disk;
        _folderLock = folderLock;
        _options = options;
        _segments = recovery.Segments;
        _ledger = recovery.Ledger;
        _cutPending = recovery.CutPending;
        _usedBytes = _segments.Sum(segment => segment.End);
        _maxBytes = options.MaxBytes ?? Math.Max(4 * options.SegmentBytes,
            Math.Min(DefaultMaxBytes, (disk.FreeBytes + _usedBytes) / DefaultShareOfFree));
        Segment? newest = _segments.LastOrDefault();
        if (isForReading)
        {
            _epoch = newest?.Epoch ?? default;
            _lastSequence = _durableSequence = newest?.Last ?? 0;
        }
        else if (newest is not null && recovery.NewEpochReason is null)
        {
            _epoch = newest.Epoch;
            _lastSequence = _durableSequence = newest.Last;
            _durableEnd = newest.End;
            _writer = SegmentWriter.Continue(disk, newest);
        }
        else
        {
            _epoch = options.NewEpoch();
            _previous = (newest?.Epoch ?? default, Math.Max(newest?.Last ?? 0, recovery.LastKnown));
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

    /// <summary>Ends with the first fsync that failed, whoever asked for it: the process must then end.</summary>
    public Task<LogFsyncException> Failed => _failed.Task;

    /// <summary>The epoch that is being written. It does not change while the log is open.</summary>
    public LogEpoch Epoch => _epoch;

    /// <summary>The highest sequence appended in <see cref="Epoch"/>, 0 before the first.</summary>
    public long LastSequence => Volatile.Read(ref _lastSequence);

    /// <summary>The highest sequence known to be on disk in <see cref="Epoch"/>, 0 before the first.</summary>
    public long DurableSequence => Volatile.Read(ref _durableSequence);

    /// <summary>
    /// True since the file being written was last found to be no longer at its path; only with
    /// <see cref="LogOptions.RequireInPlace"/>.
    /// </summary>
    public bool IsMoved => _isMoved;

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
    /// Writes a record to the cache and returns its sequence. It is durable, and can be read, after the next <see cref="Flush"/>.
    /// </summary>
    /// <exception cref="ArgumentException">The payload is longer than the options allow.</exception>
    /// <exception cref="LogDiskFullException">No room, or the log's limit is reached; nothing was written, a
    /// later call may succeed.</exception>
    /// <exception cref="LogFsyncException">An fsync failed, now or before.</exception>
    public long Append(LogStamp stamp, ReadOnlySpan<byte> payload)
    {
        int size = payload.Length <= _options.MaxPayloadBytes
            ? RecordFormat.SizeOf(payload.Length)
            : throw new ArgumentException($"A record of {payload.Length} bytes is longer than the {_options.MaxPayloadBytes} allowed.");
        if (_isForReading)
        {
            throw new InvalidOperationException($"The log in {_disk.Name} was opened to be read.");
        }

        lock (_appendGate)
        {
            ThrowIfUnusable();
            if (Fits(size))
            {
                return AppendHere(stamp, size, payload);
            }
        }

        lock (_syncGate)
        {
            lock (_appendGate)
            {
                ThrowIfUnusable();
                MakeRoom(size);
                return AppendHere(stamp, size, payload);
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
    /// Looks whether the file being written is still the file at its path, as <see cref="LogOptions.RequireInPlace"/> asks.
    /// </summary>
    /// <exception cref="LogMovedException">It is not.</exception>
    public void CheckInPlace()
    {
        SegmentWriter? writer;
        long end;
        lock (_appendGate)
        {
            ThrowIfUnusable();
            (writer, end) = (_writer, _durableEnd);
        }

        try
        {
            CheckInPlace(writer, end);
        }
        catch (ObjectDisposedException)
        {
            // The next segment was begun meanwhile, which looks for itself.
        }
    }

    /// <summary>
    /// Closes the files and lets the folder go. It does not flush: what was not flushed may or may not be there next time.
    /// </summary>
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

    private void ThrowIfUnusable()
    {
        ObjectDisposedException.ThrowIf(_disposed, this);
        if (_poison is { } first)
        {
            throw new LogFsyncException(_disk.Name, first.InnerException!);
        }
    }

    private bool Fits(int size) => _writer is not null && (_writer.IsFresh || _writer.Position + size <= _options.SegmentBytes);

    private long AppendHere(LogStamp stamp, int size, ReadOnlySpan<byte> payload)
    {
        if (_maxBytes > 0 && _usedBytes + size > _maxBytes)
        {
            throw new LogDiskFullException($"The log in {_disk.Name} has reached its limit of {_maxBytes} bytes; "
                + "it goes on when receipts free some.");
        }

        long sequence = _lastSequence + 1;
        _writer!.Take(new RecordHead(payload.Length, _options.SchemaVersion, _epoch, sequence, stamp), payload);
        _writer.WriteTaken();
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
            CheckInPlace(_writer, _durableEnd); // or the next one would be made somewhere else
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
            .Concat(_segments.Select(segment => segment.Header?.PreviousEpoch ?? default)).Append(_epoch)
            .Append(_previous.Epoch).ToHashSet());
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
        }

        if (writer is null || end == _durableEnd)
        {
            CheckInPlace(writer, _durableEnd);
            return;
        }

        PoisonOnFailure(writer.Sync);
        CheckInPlace(writer, end);
        lock (_appendGate)
        {
            _durableEnd = end;
            Volatile.Write(ref _durableSequence, sequence);
        }
    }

    /// <exception cref="ObjectDisposedException">The file was closed meanwhile, which the sync gate keeps off.</exception>
    private void CheckInPlace(SegmentWriter? writer, long bytes)
    {
        if (writer is null || !_options.RequireInPlace)
        {
            return;
        }

        _isMoved = !writer.IsInPlace(bytes);
        if (_isMoved)
        {
            throw new LogMovedException(
                $"The file {writer.Segment.Name} of the log is no longer in {_disk.Name}: it or the folder was removed, "
                + "moved, shortened or replaced. Put it back and the log goes on.");
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
            _failed.TrySetResult(failed);
            throw;
        }
    }
}
