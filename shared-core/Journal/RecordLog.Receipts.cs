namespace Cardassay.Journal;

// What others have received, and the segments that may go because of it.
public sealed partial class RecordLog
{
    /// <summary>
    /// Remembers that everything of an epoch up to a sequence is safe elsewhere, and deletes segments that hold nothing else, never the
    /// newest. The mark is durable after the next <see cref="Flush"/>; losing it only means sending again. A sequence beyond what is
    /// durable here counts as the last that is, and an epoch the log no longer holds is ignored: a receipt for records this log never
    /// wrote is the caller's to report.
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

    /// <summary>
    /// Damaged segments are kept as evidence until a limited log needs the room. So is, in a log without a limit, a segment of which no
    /// record is left: it may be all that says that a store which stands in its epoch belongs to this log.
    /// </summary>
    private bool IsSpent(Segment segment) => segment != _segments[^1]
        && (_maxBytes > 0 || segment.First <= segment.Last)
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
}
