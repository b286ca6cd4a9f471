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

    internal IntakeDesk(RecordLog log, GroupCommit commit, Projection projection, TimeProvider time, Guid bootId)
    {
        _log = log;
        _pending = new PendingRecords(log, projection.Store.Applied);
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
        using Arrivals arrivals = Arrivals.Of(board, records, clockOffsetNs, NowUnixNs()); // all that takes long, before the gate
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

        return AnswerAsync(answer, until, arrived, arrivals.Wrong, cancellationToken);
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
    private void TakeIn(Arrivals arrivals, List<string> epochs, Dictionary<string, long>? gaps)
    {
        Dictionary<RecordKey, ContentHash> known = KnownHashes(arrivals);
        for (int at = 0; at < arrivals.Count;)
        {
            Arrival arrival = arrivals[at];
            string epoch = arrival.Key.Epoch;
            if (!epochs.Contains(epoch))
            {
                epochs.Add(epoch);
            }

            int run = RunFrom(arrivals, at);
            if (run > 0)
            {
                AppendRun(arrivals, at, run);
                at += run;
                continue;
            }

            long next = _ledger.Through(epoch) + 1;
            if (gaps is not null && arrival.Key.Sequence > next && !arrival.ExplainsItsOwnEpoch)
            {
                gaps.TryAdd(epoch, next);
                Counters.AddGap();
            }
            else
            {
                Take(arrivals, at, known, epochs);
            }

            at++;
        }
    }

    /// <summary>How many records from one on are just the next of their epoch, so that none needs a second look.</summary>
    private int RunFrom(Arrivals arrivals, int from)
    {
        string epoch = arrivals[from].Key.Epoch;
        long next = _ledger.Through(epoch) + 1;
        int at = from;
        while (at < arrivals.Count && arrivals[at] is var arrival && ReferenceEquals(arrival.Key.Epoch, epoch) && arrival.Key.Sequence == next
            && !_ledger.HasPassed(epoch, next) && arrival.Lost is null && !arrival.IsConflicting)
        {
            at++;
            next++;
        }

        return at - from;
    }

    /// <summary>Appends the next records of one epoch in one piece.</summary>
    private void AppendRun(Arrivals arrivals, int from, int count)
    {
        Arrival first = arrivals[from];
        RecordKey key = first.Key;
        long last = _log.AppendAll(Stamp(), arrivals.Entries(from, count));
        _pending.Add(key.Epoch, key.Sequence, count, last - count + 1);
        _ledger.Receive(key.Epoch, first.Board, key.Sequence, key.Sequence + count - 1);
        long bytes = 0;
        for (int i = from; i < from + count; i++)
        {
            bytes += arrivals[i].Payload.Length;
        }

        Counters.AddReceived(count, bytes);
    }

    /// <summary>Takes one in that may have been received before, or declares others lost.</summary>
    private void Take(Arrivals arrivals, int index, Dictionary<RecordKey, ContentHash> known, List<string> epochs)
    {
        Arrival arrival = arrivals[index];
        ReadOnlySpan<byte> entry = arrivals.Entries(index, 1)[0].Span;
        RecordKey key = arrival.Key;
        ContentHash? conflict = null;
        if ((known.TryGetValue(key, out ContentHash stored) ? stored : HashOfEarlier(arrivals, index)) is { } before)
        {
            ContentHash hash = ContentHash.Of(arrival.Payload.Span);
            if (before == hash || _pending.HasConflict(key, hash) || _projection.Store.HasConflict(key, hash.ToBytes()))
            {
                Counters.AddDuplicate();
                return;
            }

            conflict = hash;
            entry = arrivals.ConflictingEntry(index);
        }

        long at = _log.Append(Stamp(), entry);
        if (conflict is { } other)
        {
            _pending.AddConflict(key, other); // not before: what a full disk did not take is no conflict that is known
            Counters.AddConflict();
        }

        if (conflict is not null || arrival.IsConflicting)
        {
            return;
        }

        _pending.Add(key.Epoch, key.Sequence, 1, at);
        _ledger.Receive(key.Epoch, arrival.Board, key.Sequence);
        Counters.AddReceived(1, arrival.Payload.Length);
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

    /// <summary>Hash of the first content of the same key within a message, which none of <see cref="KnownHashes"/> has seen.</summary>
    private static ContentHash? HashOfEarlier(Arrivals arrivals, int index)
    {
        for (int i = 0; i < index; i++)
        {
            if (arrivals[i].Key == arrivals[index].Key && !arrivals[i].IsConflicting)
            {
                return ContentHash.Of(arrivals[i].Payload.Span);
            }
        }

        return null;
    }

    /// <exception cref="StoreException">The store is being made again and cannot say yet what came before.</exception>
    private Dictionary<RecordKey, ContentHash> KnownHashes(Arrivals arrivals)
    {
        // Only what the ledger has passed can be in the store already: at or below the mark, or beyond a hole that an explanation or a
        // power cut (which may keep a later entry of the log and lose an earlier one) has left.
        var asked = new List<RecordKey>();
        for (int i = 0; i < arrivals.Count; i++)
        {
            RecordKey key = arrivals[i].Key;
            if (_ledger.HasPassed(key.Epoch, key.Sequence))
            {
                asked.Add(key);
            }
        }

        if (asked.Count == 0)
        {
            return [];
        }

        IRecordStore store = _projection.Store;
        if (_pending.AreMissingFrom(store.Applied))
        {
            throw new StoreException("What came before is not all in the database yet: it is being made again from the intake log.");
        }

        Dictionary<RecordKey, ContentHash> known = _pending.HashesOf(asked);
        foreach ((RecordKey key, byte[] hash) in store.HashesOf(asked))
        {
            known[key] = ContentHash.FromBytes(hash);
        }

        return known;
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
