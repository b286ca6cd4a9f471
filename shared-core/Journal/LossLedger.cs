namespace Cardassay.Journal;

/// <summary>
/// What of each epoch has been released, what is known to be lost, and which losses have been acknowledged. The log writes it down as
/// notes. Guarded by the log's append lock once the log is open.
/// </summary>
internal sealed class LossLedger
{
    private readonly Dictionary<LogEpoch, long> _released = [];
    private readonly List<(LogEpoch Epoch, long First, long Last)> _acknowledged = [];
    private readonly List<LostRange> _lost = [];

    public IReadOnlyList<LostRange> Lost => [.. _lost];

    public long ReleasedThrough(LogEpoch epoch) => _released.GetValueOrDefault(epoch);

    public void Apply(LogNote note)
    {
        if (note.Kind == LogNoteKind.Released)
        {
            Release(note.Epoch, note.First);
        }
        else if (note.Kind == LogNoteKind.LossAcknowledged)
        {
            Acknowledge(note.Epoch, note.First, note.Last);
        }
    }

    public void Release(LogEpoch epoch, long through) => _released[epoch] = Math.Max(through, ReleasedThrough(epoch));

    public void Acknowledge(LogEpoch epoch, long first, long last)
    {
        if (!_acknowledged.Contains((epoch, first, last)))
        {
            _acknowledged.Add((epoch, first, last));
        }

        _lost.RemoveAll(range => range.Epoch == epoch && range.First >= first && range.Last <= last);
    }

    /// <summary>Enters as lost what of a range is neither released nor known already.</summary>
    public void Report(LogEpoch epoch, long first, long last, string reason)
    {
        long next = Math.Max(first, ReleasedThrough(epoch) + 1);
        IEnumerable<(long First, long Last)> known = _acknowledged
            .Where(range => range.Epoch == epoch).Select(range => (range.First, range.Last))
            .Concat(_lost.Where(range => range.Epoch == epoch).Select(range => (range.First, range.Last)));
        foreach ((long knownFirst, long knownLast) in known.Order().ToList())
        {
            if (knownFirst > last)
            {
                break;
            }

            if (knownFirst > next)
            {
                _lost.Add(new LostRange(epoch, next, knownFirst - 1, reason));
            }

            next = Math.Max(next, knownLast + 1);
        }

        if (next <= last)
        {
            _lost.Add(new LostRange(epoch, next, last, reason));
        }
    }

    /// <summary>Forgets epochs of which nothing is left that could be missed.</summary>
    public void KeepOnly(IReadOnlySet<LogEpoch> epochs)
    {
        foreach (LogEpoch gone in _released.Keys.Where(epoch => !epochs.Contains(epoch)).ToList())
        {
            _released.Remove(gone);
        }

        _acknowledged.RemoveAll(range => !epochs.Contains(range.Epoch) || range.Last <= ReleasedThrough(range.Epoch));
    }

    /// <summary>Everything, as notes; a segment begins with them, so that older segments may go.</summary>
    public IEnumerable<LogNote> Notes() =>
    [
        .. _released.OrderBy(mark => mark.Key.Value).Select(mark => new LogNote(LogNoteKind.Released, mark.Key, mark.Value, 0)),
        .. _acknowledged.Select(range => new LogNote(LogNoteKind.LossAcknowledged, range.Epoch, range.First, range.Last)),
    ];
}
