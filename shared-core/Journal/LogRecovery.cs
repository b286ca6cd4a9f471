namespace Cardassay.Journal;

/// <summary>
/// Brings a folder back into order after whatever happened to it. It never deletes a record that can be read and never gives up: damage
/// ends in a report.
/// </summary>
internal sealed class LogRecovery
{
    private readonly ILogDisk _disk;
    private readonly List<Segment> _segments = [];
    private readonly Dictionary<Segment, SegmentScan> _scans = [];
    private readonly List<CutTail> _cuts = [];
    private readonly List<SetAsideSegment> _setAside = [];

    /// <summary>True looks and changes nothing on the disk.</summary>
    private readonly bool _onlyLooks;

    private LogRecovery(ILogDisk disk, bool onlyLooks)
    {
        _disk = disk;
        _onlyLooks = onlyLooks;
    }

    /// <summary>What is left, oldest first.</summary>
    public List<Segment> Segments => _segments;

    public LossLedger Ledger { get; } = new();

    /// <summary>Why the last epoch cannot go on, as a sentence; null when it can.</summary>
    public string? NewEpochReason { get; private set; }

    /// <summary>Where the newest epoch ended as somebody remembers it, when that is beyond what is here; 0 otherwise.</summary>
    public long LastKnown { get; private set; }

    /// <summary>The newest segment when it ends in bytes to be cut, which must not happen before the next epoch exists.</summary>
    public Segment? CutPending { get; private set; }

    public IReadOnlyList<CutTail> Cuts => _cuts;

    public IReadOnlyList<SetAsideSegment> SetAside => _setAside;

    /// <exception cref="LogFsyncException">What was found could not be made durable.</exception>
    /// <exception cref="LogFormatException">A newer version of the program wrote the log.</exception>
    public static LogRecovery Run(ILogDisk disk, LogOptions options, bool onlyLooks = false)
    {
        var recovery = new LogRecovery(disk, onlyLooks);
        recovery.Load();
        recovery.Scan(options.VerifyAtOpenBytes);
        foreach (LogNote note in recovery._segments.Where(recovery._scans.ContainsKey)
            .SelectMany(segment => recovery._scans[segment].Notes))
        {
            recovery.Ledger.Apply(note);
        }

        recovery.JudgeOlder();
        recovery.JudgeNewest();
        recovery.FindLosses(options.KnownThrough);
        if (!onlyLooks)
        {
            recovery.MakeDurable();
        }

        return recovery;
    }

    private void Load()
    {
        foreach (string file in _disk.List())
        {
            if (file.EndsWith(SegmentName.UnfinishedEnding, StringComparison.Ordinal))
            {
                if (!_onlyLooks)
                {
                    _disk.Delete(file);
                }
            }
            else if (SegmentName.TryParse(file, out SegmentName? name))
            {
                using ILogFile open = _disk.Open(file, writable: false);
                _segments.Add(new Segment(name, SegmentHeader.Read(open, name)) { End = open.Length });
            }
        }

        _segments.Sort((a, b) => string.CompareOrdinal(a.Name.ToString(), b.Name.ToString()));
    }

    /// <summary>Reads the newest segments as far as the allowance goes, and any whose end cannot be told from its successor.</summary>
    private void Scan(long allowanceBytes)
    {
        for (int i = _segments.Count - 1; i >= 0; i--)
        {
            Segment segment = _segments[i];
            long? claimedLast = ClaimedLast(i);
            allowanceBytes -= segment.End;
            if (allowanceBytes >= 0 || claimedLast is null || segment.Header is null || segment.Name.Damaged)
            {
                using ILogFile file = _disk.Open(segment.Name.ToString(), writable: false);
                _scans[segment] = SegmentScan.Of(segment, file);
            }
            else
            {
                segment.Last = claimedLast.Value;
            }
        }
    }

    /// <summary>The last sequence of a segment as its direct successor has it; null when there is none to ask.</summary>
    private long? ClaimedLast(int index)
    {
        Segment? next = index + 1 < _segments.Count ? _segments[index + 1] : null;
        return next?.Header is { } header && header.Ordinal == _segments[index].Name.Ordinal + 1
            && header.PreviousEpoch == _segments[index].Epoch ? header.PreviousLast : null;
    }

    private void JudgeOlder()
    {
        for (int i = 0; i < _segments.Count - 1; i++)
        {
            Segment segment = _segments[i];
            if (segment.Name.Damaged || !_scans.TryGetValue(segment, out SegmentScan? scan))
            {
                continue;
            }

            long? claimed = ClaimedLast(i);
            bool whole = segment.Header is not null && scan.HoleBytes == 0 && segment.Last >= (claimed ?? 0);
            if (whole && scan.TailBytes > 0 && claimed is not null && _segments[i + 1].Epoch != segment.Epoch)
            {
                // A cut that was interrupted after the next epoch had been opened.
                _cuts.Add(new CutTail(segment.Name.ToString(), segment.Epoch, segment.Last, scan.TailBytes));
                if (!_onlyLooks)
                {
                    Truncate(_disk, segment);
                }
            }
            else if (!whole || scan.TailBytes > 0)
            {
                PutAside(segment, scan);
            }
        }
    }

    private void JudgeNewest()
    {
        if (_segments.Count == 0)
        {
            NewEpochReason = "The log is new.";
            return;
        }

        Segment newest = _segments[^1];
        SegmentScan scan = _scans[newest];
        string file = newest.Name.ToString();
        if (newest.Name.Damaged)
        {
            NewEpochReason = $"The newest segment {file} is damaged.";
        }
        else if (newest.Header is null || scan.HoleBytes > 0)
        {
            PutAside(newest, scan);
            NewEpochReason = $"The newest segment {file} was found damaged.";
        }
        else if (scan.TailBytes > 0)
        {
            _cuts.Add(new CutTail(file, newest.Epoch, newest.Last, scan.TailBytes));
            CutPending = newest;
            NewEpochReason = $"{scan.TailBytes} bytes at the end of {file} were no whole record.";
        }
        else if (scan.IsSealed)
        {
            NewEpochReason = $"The segment that followed {file} is missing.";
        }
    }

    private void PutAside(Segment segment, SegmentScan scan)
    {
        string before = segment.Name.ToString();
        if (_onlyLooks)
        {
            _setAside.Add(new SetAsideSegment(before, segment.Epoch, scan.HoleBytes + scan.TailBytes));
            return;
        }

        segment.Name = segment.Name with { Damaged = true };
        _disk.Rename(before, segment.Name.ToString());
        _setAside.Add(new SetAsideSegment(segment.Name.ToString(), segment.Epoch, scan.HoleBytes + scan.TailBytes));
    }

    /// <summary>
    /// Compares what is there with what must be: from sequence 1 on, and up to where a later segment says an epoch ended.
    /// </summary>
    private void FindLosses(LogPosition? known)
    {
        Dictionary<LogEpoch, long> next = [];
        Dictionary<LogEpoch, string> damagedFile = [];
        foreach (Segment segment in _segments)
        {
            IReadOnlyList<(long First, long Last)> ranges =
                _scans.TryGetValue(segment, out SegmentScan? scan) ? scan.Ranges : [(segment.First, segment.Last)];
            if (segment.Name.Damaged)
            {
                damagedFile[segment.Epoch] = segment.Name.ToString();
            }

            foreach ((long first, long last) in ranges)
            {
                ReportUpTo(segment.Epoch, first - 1);
                next[segment.Epoch] = Math.Max(next[segment.Epoch], last + 1);
            }
        }

        foreach (SegmentHeader header in _segments.Select(segment => segment.Header).OfType<SegmentHeader>())
        {
            ReportUpTo(header.PreviousEpoch, header.PreviousLast);
        }

        if (known is { } reached && _segments.Any(segment => segment.Epoch == reached.Epoch))
        {
            long ends = next.GetValueOrDefault(reached.Epoch, 1) - 1;
            ReportUpTo(reached.Epoch, reached.Sequence);
            if (ends < reached.Sequence && _segments[^1].Epoch == reached.Epoch)
            {
                LastKnown = reached.Sequence;
                NewEpochReason ??= $"The log is known to have reached {reached.Sequence} and ends at {ends}.";
            }
        }

        void ReportUpTo(LogEpoch epoch, long last)
        {
            long first = next.GetValueOrDefault(epoch, 1);
            if (first <= last)
            {
                Ledger.Report(epoch, first, last, damagedFile.TryGetValue(epoch, out string? file)
                    ? $"They cannot be read in the damaged segment {file}, or their segment is missing."
                    : "The end of the log that held them is missing, or their segment is.");
            }

            next[epoch] = Math.Max(first, last + 1);
        }
    }

    /// <summary>What was only in the cache of a process that died counts as stored from now on, so it must be.</summary>
    private void MakeDurable()
    {
        try
        {
            if (_segments.Count > 0)
            {
                using ILogFile newest = _disk.Open(_segments[^1].Name.ToString(), writable: true);
                newest.Sync();
            }

            _disk.SyncFolder();
        }
        catch (IOException error)
        {
            throw new LogFsyncException(_disk.Name, error);
        }
    }

    /// <summary>Cuts a segment behind its last whole record.</summary>
    internal static void Truncate(ILogDisk disk, Segment segment)
    {
        using ILogFile file = disk.Open(segment.Name.ToString(), writable: true);
        file.Truncate(segment.End);
        file.Sync();
    }
}
