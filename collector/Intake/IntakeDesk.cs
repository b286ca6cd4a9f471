using Cardassay.Collector.Analysis;
using Cardassay.Collector.Storage;
using Cardassay.Journal;

namespace Cardassay.Collector.Intake;

/// <summary>
/// Takes records in: decides what is new, duplicate, conflicting or beyond a gap, appends to the intake log, and gives a
/// receipt only after the log is on the disk. The one place where anything enters the master data set.
/// </summary>
internal sealed partial class IntakeDesk
{
    /// <summary>Largest payload of one record, bytes.</summary>
    internal const int MaxPayloadBytes = (1 << 20) - 4096;

    private readonly RecordLog _log;
    private readonly GroupCommit _commit;
    private readonly Projection _projection;
    private readonly TimeProvider _time;
    private readonly Guid _bootId;
    private readonly Lock _gate = new();
    private readonly EpochLedger _ledger;

    private readonly PendingHashes _pending = new();

    /// <summary>The next records of one epoch, none of which needs a second look: appended in one piece.</summary>
    private readonly List<Arrival> _run = [];

    internal IntakeDesk(RecordLog log, GroupCommit commit, Projection projection, TimeProvider time, Guid bootId)
    {
        _log = log;
        _commit = commit;
        _projection = projection;
        _time = time;
        _bootId = bootId;
        _ledger = new EpochLedger(projection.Store.Marks());
        projection.Applied = Forget;
    }

    internal IntakeCounters Counters { get; } = new();

    /// <summary>Told how long each message with records took from its arrival to its receipt.</summary>
    internal Action<TimeSpan>? Receipted { get; set; }

    /// <summary>How far the epoch has been received. Some of it may not be on the disk yet: nothing to give a receipt for.</summary>
    internal long Through(string epoch)
    {
        lock (_gate)
        {
            return _ledger.Through(epoch);
        }
    }

    /// <summary>Notes which board an epoch's journal is in. Returns the board it was in before; null when that is the same, or no board of this collector.</summary>
    internal string? MoveTo(string epoch, string board)
    {
        lock (_gate)
        {
            return _ledger.MoveTo(epoch, board) is { } kept && BoardOrigin.Split(kept) is { Origin: "" } own ? own.Board : null;
        }
    }

    /// <summary>
    /// Takes in records of one board. Returns, after they are on the disk, how far each epoch named has been received, and the
    /// first missing sequence of each epoch in which a gap was seen.
    /// </summary>
    /// <exception cref="BadRecordException">A record breaks the protocol; the records before it were taken in.</exception>
    internal async Task<IntakeAnswer> AcceptAsync(
        string board, IReadOnlyList<WireRecord> records, long clockOffsetNs, CancellationToken cancellationToken)
    {
        long arrived = _time.GetTimestamp();
        var epochs = new List<string>();
        var gaps = new Dictionary<string, long>(StringComparer.Ordinal);
        IReadOnlyList<(string Epoch, long Through)> marks;
        long until;
        int fresh;
        int conflicts;
        using Arrivals arrivals = Arrivals.Of(board, records, clockOffsetNs, NowUnixNs()); // all that takes long, before the gate
        lock (_gate)
        {
            (long freshBefore, long conflictsBefore) = (Counters.Received, Counters.Conflicts);
            TakeIn(arrivals.All, epochs, gaps);
            marks = [.. epochs.Select(e => (e, _ledger.Through(e)))];
            until = _log.LastSequence;
            (fresh, conflicts) = ((int)(Counters.Received - freshBefore), (int)(Counters.Conflicts - conflictsBefore));
        }

        // Also when nothing here was new: what a repeated record repeats may have been appended by another stream and not be on the disk.
        await CommitAsync(until, cancellationToken);
        Receipted?.Invoke(_time.GetElapsedTime(arrived));
        return arrivals.Wrong is { } wrong ? throw new BadRecordException(wrong) : new IntakeAnswer(marks, gaps, fresh, conflicts);
    }

    /// <summary>How far each epoch has been received and is on the disk: what a receipt may say.</summary>
    internal async Task<IReadOnlyList<(string Epoch, long Through)>> DurableMarksAsync(IEnumerable<string> epochs, CancellationToken cancellationToken)
    {
        IReadOnlyList<(string Epoch, long Through)> marks;
        long until;
        lock (_gate)
        {
            marks = [.. epochs.Select(e => (e, _ledger.Through(e)))];
            until = _log.LastSequence;
        }

        await CommitAsync(until, cancellationToken);
        return marks;
    }

    /// <summary>Writes down what an operator said or the collector noticed; returns after it is on the disk.</summary>
    internal async Task RecordAsync(IEnumerable<V1.IntakeEntry> entries, CancellationToken cancellationToken)
    {
        long last = 0;
        lock (_gate)
        {
            foreach (V1.IntakeEntry entry in entries)
            {
                entry.ReceivedUnixNs = NowUnixNs();
                last = AppendEvent(entry);
            }
        }

        if (last > 0)
        {
            await CommitAsync(last, cancellationToken);
        }
    }

    /// <summary>The collector's wall clock, ns since 1970.</summary>
    internal long NowUnixNs() => (_time.GetUtcNow() - DateTimeOffset.UnixEpoch).Ticks * 100;

    /// <summary>Waits until everything appended up to a sequence is on the disk; 0 for nothing appended yet.</summary>
    private async Task CommitAsync(long sequence, CancellationToken cancellationToken)
    {
        if (sequence == 0)
        {
            return;
        }

        await _commit.CommitAsync(sequence, cancellationToken);
        _projection.Wake();
    }

    private long AppendEvent(V1.IntakeEntry entry)
    {
        long sequence = _log.Append(Stamp(), IntakeCodec.Encode(entry));
        if (entry.CollectorEvent?.Gap is { } gap)
        {
            _ledger.Lose(Convert.ToHexStringLower(gap.Epoch.Span), gap.Board, (long)gap.FirstSequence, (long)gap.LastSequence);
            Counters.AddMissing((long)(gap.LastSequence - gap.FirstSequence + 1));
        }

        return sequence;
    }

    /// <summary>Takes arrivals in, in their order. Needs the gate.</summary>
    /// <param name="arrivals">What came.</param>
    /// <param name="epochs">Filled with every epoch whose mark may have moved.</param>
    /// <param name="gaps">Filled with the first missing sequence of each epoch that has records beyond a hole, which are left out; null takes them in.</param>
    private void TakeIn(IReadOnlyList<Arrival> arrivals, List<string> epochs, Dictionary<string, long>? gaps)
    {
        IReadOnlyDictionary<RecordKey, byte[]> known = KnownHashes(arrivals);
        try
        {
            foreach (Arrival arrival in arrivals)
            {
                string epoch = arrival.Key.Epoch;
                bool isRun = _run.Count > 0 && ReferenceEquals(_run[^1].Key.Epoch, epoch);
                if (!isRun)
                {
                    AppendRun();
                    if (!epochs.Contains(epoch))
                    {
                        epochs.Add(epoch);
                    }
                }

                long next = (isRun ? _run[^1].Key.Sequence : _ledger.Through(epoch)) + 1;
                if (arrival.Key.Sequence == next && !_ledger.HasPassed(epoch, next) && arrival.Lost is null && !arrival.IsConflicting)
                {
                    _run.Add(arrival);
                    continue;
                }

                AppendRun();
                next = _ledger.Through(epoch) + 1;
                if (gaps is not null && arrival.Key.Sequence > next && !arrival.ExplainsItsOwnEpoch)
                {
                    gaps.TryAdd(epoch, next);
                    Counters.AddGap();
                    continue;
                }

                Take(arrival, known, epochs);
            }

            AppendRun();
        }
        finally
        {
            _run.Clear(); // after a full disk: nothing of it was written
        }
    }

    private void AppendRun()
    {
        if (_run.Count == 0)
        {
            return;
        }

        _log.AppendAll(Stamp(), [.. _run.Select(arrival => arrival.Entry)]);
        _pending.Add(_run);
        _ledger.Receive(_run[0].Key.Epoch, _run[0].Board, _run[0].Key.Sequence, _run[^1].Key.Sequence);
        Counters.AddReceived(_run.Count, _run.Sum(arrival => (long)arrival.PayloadBytes));
        _run.Clear();
    }

    /// <summary>Takes one in that may have been received before, or declares others lost.</summary>
    private void Take(Arrival arrival, IReadOnlyDictionary<RecordKey, byte[]> known, List<string> epochs)
    {
        RecordKey key = arrival.Key;
        bool isKnown = known.TryGetValue(key, out byte[]? stored);
        ContentHash before = isKnown ? ContentHash.FromBytes(stored) : default;
        if (isKnown || _pending.TryGet(key, out before))
        {
            if (before == arrival.Hash || _pending.HasConflict(key, arrival.Hash) || _projection.Store.HasConflict(key, arrival.Hash.ToBytes()))
            {
                Counters.AddDuplicate();
                return;
            }

            arrival.SetConflicting();
            _pending.AddConflict(key, arrival.Hash);
            Counters.AddConflict();
        }

        _log.Append(Stamp(), arrival.Entry.Span);
        if (arrival.IsConflicting)
        {
            return;
        }

        _pending.Add([arrival]);
        _ledger.Receive(key.Epoch, arrival.Board, key.Sequence);
        Counters.AddReceived(1, arrival.PayloadBytes);
        if (arrival.Lost is { } lost)
        {
            _ledger.Lose(lost.Epoch, arrival.Board, lost.FirstSequence, lost.LastSequence);
            Counters.AddMissing(Math.Max(0, lost.LastSequence - lost.FirstSequence + 1));
            if (!epochs.Contains(lost.Epoch))
            {
                epochs.Add(lost.Epoch);
            }
        }
    }

    private IReadOnlyDictionary<RecordKey, byte[]> KnownHashes(IReadOnlyList<Arrival> arrivals)
    {
        // Only what the ledger has passed can be in the store already: at or below the mark, or beyond a hole that an explanation or a
        // power cut (which may keep a later entry of the log and lose an earlier one) has left.
        List<RecordKey> asked = [.. arrivals.Select(arrival => arrival.Key).Where(key => _ledger.HasPassed(key.Epoch, key.Sequence))];
        return asked.Count == 0 ? new Dictionary<RecordKey, byte[]>() : _projection.Store.HashesOf(asked);
    }

    private void Forget(IReadOnlyList<StoredRecord> applied)
    {
        lock (_gate)
        {
            _pending.Forget(applied);
        }
    }

    private LogStamp Stamp() => new(_time.GetTimestamp() * (1_000_000_000 / _time.TimestampFrequency), NowUnixNs(), _bootId);
}

/// <summary>What an intake came to.</summary>
/// <param name="Marks">How far each epoch named has been received.</param>
/// <param name="Gaps">First missing sequence of each epoch in which a gap was seen.</param>
/// <param name="Fresh">Records taken in for the first time.</param>
/// <param name="Conflicts">Records whose key had been received before with another content.</param>
internal sealed record IntakeAnswer(
    IReadOnlyList<(string Epoch, long Through)> Marks, IReadOnlyDictionary<string, long> Gaps, int Fresh, int Conflicts);

/// <summary>A record breaks the protocol.</summary>
internal sealed class BadRecordException(string message) : Exception(message);
