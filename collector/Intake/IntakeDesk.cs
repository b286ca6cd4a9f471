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
    private readonly RecordLog _log;
    private readonly GroupCommit _commit;
    private readonly Projection _projection;
    private readonly TimeProvider _time;
    private readonly Guid _bootId;
    private readonly Lock _gate = new();
    private readonly EpochLedger _ledger;

    private readonly PendingRecords _pending;

    /// <param name="log">The intake log.</param>
    /// <param name="commit">Makes it durable.</param>
    /// <param name="projection">Keeps the store at its end.</param>
    /// <param name="time">Clock of stamps and receipts.</param>
    /// <param name="bootId">Boot of this machine.</param>
    /// <param name="mostPending">Records that wait for the store and are known all the same when they come again; more are let go.</param>
    internal IntakeDesk(RecordLog log, GroupCommit commit, Projection projection, TimeProvider time, Guid bootId, int mostPending = PendingRecords.Most)
    {
        _log = log;
        _pending = new PendingRecords(log, projection.Store.Applied, mostPending);
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

    /// <summary>The board an epoch's journal was in before; null when that is the same, or no board of this collector.</summary>
    internal string? BoardBefore(string epoch, string board)
    {
        lock (_gate)
        {
            return _ledger.BoardOf(epoch) is { } kept && kept != board && BoardOrigin.Split(kept) is { Origin: "" } own ? own.Board : null;
        }
    }

    /// <summary>Notes which board an epoch's journal is in.</summary>
    internal void MoveTo(string epoch, string board)
    {
        lock (_gate)
        {
            _ledger.MoveTo(epoch, board);
        }
    }

    /// <summary>
    /// Takes in records of one board. Returns, after they are on the disk, how far each epoch named has been received, and the
    /// first missing sequence of each epoch in which a gap was seen.
    /// </summary>
    /// <param name="board">The board in whose name they count.</param>
    /// <param name="records">An encoded <see cref="V1.Records"/>. It may be used again when the call returns, before the task ends.</param>
    /// <param name="clockOffsetNs">How far the board's clock is behind this one, ns.</param>
    /// <param name="cancellationToken">Ends the waiting; what was taken in stays.</param>
    /// <exception cref="BadRecordException">
    /// Of the call: it is no message of 1 to 256 records, and nothing was taken in. Of the task: a record breaks the protocol; those before it were
    /// taken in.
    /// </exception>
    internal Task<IntakeAnswer> AcceptAsync(string board, ReadOnlyMemory<byte> records, long clockOffsetNs, CancellationToken cancellationToken)
    {
        long arrived = _time.GetTimestamp();
        var epochs = new List<string>();
        var gaps = new Dictionary<string, long>(StringComparer.Ordinal);
        IntakeAnswer answer;
        long until;
        (IReadOnlyList<Arrival> arrivals, string? wrong) = Arrival.Of(board, records.Span, clockOffsetNs, NowUnixNs()); // all that takes long, before the gate
        lock (_gate)
        {
            (long freshBefore, long conflictsBefore) = (Counters.Received, Counters.Conflicts);
            TakeIn(arrivals, epochs, gaps);
            answer = new IntakeAnswer(
                [.. epochs.Select(e => (e, _ledger.Through(e)))],
                gaps,
                arrivals.Count,
                (int)(Counters.Received - freshBefore),
                (int)(Counters.Conflicts - conflictsBefore));
            until = _log.LastSequence;
        }

        return AnswerAsync(answer, until, arrived, wrong, cancellationToken);
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

    /// <summary>Answers when what was taken in is on the disk.</summary>
    private async Task<IntakeAnswer> AnswerAsync(IntakeAnswer answer, long until, long arrived, string? wrong, CancellationToken cancellationToken)
    {
        // Also when nothing here was new: what a repeated record repeats may have been appended by another stream and not be on the disk.
        await CommitAsync(until, cancellationToken);
        Receipted?.Invoke(_time.GetElapsedTime(arrived));
        return wrong is not null ? throw new BadRecordException(wrong) : answer;
    }

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
        _pending.LetGoWhenFull();
        IReadOnlyDictionary<RecordKey, byte[]> stored = StoredHashes(arrivals);
        foreach (Arrival arrival in arrivals)
        {
            string epoch = arrival.Key.Epoch;
            if (!epochs.Contains(epoch))
            {
                epochs.Add(epoch);
            }

            long next = _ledger.Through(epoch) + 1;
            if (gaps is not null && arrival.Key.Sequence > next && !arrival.ExplainsItsOwnEpoch)
            {
                gaps.TryAdd(epoch, next);
                Counters.AddGap();
            }
            else
            {
                Take(arrival, stored.TryGetValue(arrival.Key, out byte[]? hash) ? ContentHash.FromBytes(hash) : _pending.HashOf(arrival.Key), epochs);
            }
        }
    }

    /// <summary>Takes one in, unless it was received before.</summary>
    private void Take(Arrival arrival, ContentHash? before, List<string> epochs)
    {
        RecordKey key = arrival.Key;
        if (before is not null)
        {
            if (before == arrival.Hash || _pending.HasConflict(key, arrival.Hash) || _projection.Store.HasConflict(key, arrival.Hash.ToBytes()))
            {
                Counters.AddDuplicate();
                return;
            }

            _log.Append(Stamp(), arrival.ConflictingEntry());
            _pending.AddConflict(key, arrival.Hash); // not before: what a full disk did not take is no conflict that is known
            Counters.AddConflict();
            return;
        }

        _log.Append(Stamp(), arrival.Entry);
        if (arrival.IsConflicting)
        {
            return;
        }

        _pending.Add(key, arrival.Hash);
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

    /// <summary>Hashes of what the store has under the keys of arrivals.</summary>
    /// <exception cref="StoreException">The store cannot say yet what came before: it is being made again, or far behind.</exception>
    private IReadOnlyDictionary<RecordKey, byte[]> StoredHashes(IReadOnlyList<Arrival> arrivals)
    {
        // Only what the ledger has passed can be in the store already: at or below the mark, or beyond a hole that an explanation or a
        // power cut (which may keep a later entry of the log and lose an earlier one) has left.
        RecordKey[] asked = [.. arrivals.Select(a => a.Key).Where(key => _ledger.HasPassed(key.Epoch, key.Sequence))];
        if (asked.Length == 0)
        {
            return new Dictionary<RecordKey, byte[]>();
        }

        IRecordStore store = _projection.Store;
        return _pending.AreMissingFrom(store.Applied)
            ? throw new StoreException("What came before is not all in the database yet: it is being made again from the intake log.")
            : store.HashesOf(asked);
    }

    private void Forget(StoreBatch applied)
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
/// <param name="Records">Records looked at.</param>
/// <param name="Fresh">Records taken in for the first time.</param>
/// <param name="Conflicts">Records whose key had been received before with another content.</param>
internal sealed record IntakeAnswer(
    IReadOnlyList<(string Epoch, long Through)> Marks, IReadOnlyDictionary<string, long> Gaps, int Records, int Fresh, int Conflicts);

/// <summary>A record breaks the protocol.</summary>
internal sealed class BadRecordException(string message) : Exception(message);
