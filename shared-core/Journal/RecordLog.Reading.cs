namespace Cardassay.Journal;

// What is in the log and what is missing.
public sealed partial class RecordLog
{
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
    /// The files to copy for a copy of everything durable, and what they hold. A copy of the stated first bytes of each (null: all of them)
    /// opens as a clean log, whatever is appended meanwhile.
    /// </summary>
    public (IReadOnlyList<(string File, long? Bytes)> Segments, IReadOnlyList<(LogEpoch Epoch, long First, long Last)> Epochs) Snapshot()
    {
        lock (_syncGate) // nothing becomes durable between the two looks
        {
            lock (_appendGate)
            {
                ThrowIfUnusable();
                return (
                    [.. _segments.Select(
                        segment => (segment.Name.ToString(), ReferenceEquals(segment, _writer?.Segment) ? _durableEnd : (long?)null))],
                    Epochs());
            }
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

    /// <summary>All epochs, oldest first and the current one last, also those of which no record is left.</summary>
    public IReadOnlyList<LogEpoch> EpochOrder
    {
        get
        {
            lock (_appendGate)
            {
                return [.. _segments.Select(segment => segment.Epoch).Append(_epoch).Distinct()];
            }
        }
    }

    private long DurableLast(LogEpoch epoch) => epoch == _epoch
        ? _durableSequence
        : _segments.Where(segment => segment.Epoch == epoch).Select(segment => segment.Last).DefaultIfEmpty(0).Max();

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
        catch (Exception gone) when (gone is FileNotFoundException or DirectoryNotFoundException)
        {
            lock (_appendGate)
            {
                // A file that was taken away while it is written lives on under its handle.
                return !_disposed && segment == _writer?.Segment ? _writer.ForReading() : null;
            }
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
