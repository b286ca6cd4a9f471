using System.Security.Cryptography;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Storage;
using Cardassay.Journal;
using Google.Protobuf;

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

    /// <summary>Hashes of records that are in the log but not yet in the store, conflicts included.</summary>
    private readonly Dictionary<RecordKey, byte[]> _pending = [];
    private readonly HashSet<(RecordKey Key, string Hash)> _pendingConflicts = [];

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
        string board, IReadOnlyList<V1.Record> records, long clockOffsetNs, CancellationToken cancellationToken)
    {
        long arrived = _time.GetTimestamp();
        var epochs = new List<string>();
        var gaps = new Dictionary<string, long>(StringComparer.Ordinal);
        BadRecordException? bad = null;
        IReadOnlyList<(string Epoch, long Through)> marks;
        long until;
        int fresh;
        int conflicts;
        lock (_gate)
        {
            (long freshBefore, long conflictsBefore) = (Counters.Received, Counters.Conflicts);
            IReadOnlyDictionary<RecordKey, byte[]> known = KnownHashes(records);
            foreach (V1.Record record in records)
            {
                if (EntryStore.WhatIsWrong(record) is { } wrong)
                {
                    bad = new BadRecordException(wrong);
                    break;
                }

                RecordKey key = IntakeCodec.KeyOf(record);
                if (!epochs.Contains(key.Epoch))
                {
                    epochs.Add(key.Epoch);
                }

                if (key.Sequence > _ledger.Through(key.Epoch) + 1 && !ExplainsItsOwnEpoch(record, key))
                {
                    gaps.TryAdd(key.Epoch, _ledger.Through(key.Epoch) + 1);
                    Counters.AddGap();
                    continue;
                }

                Take(
                    new V1.IntakeEntry
                    {
                        ReceivedUnixNs = NowUnixNs(),
                        Delivered = new V1.Delivered { Board = board, Record = record, ClockOffsetNs = clockOffsetNs },
                    },
                    known,
                    epochs);
            }

            marks = [.. epochs.Select(e => (e, _ledger.Through(e)))];
            until = _log.LastSequence;
            (fresh, conflicts) = ((int)(Counters.Received - freshBefore), (int)(Counters.Conflicts - conflictsBefore));
        }

        // Also when nothing here was new: what a repeated record repeats may have been appended by another stream and not be on the disk.
        await CommitAsync(until, cancellationToken);
        Receipted?.Invoke(_time.GetElapsedTime(arrived));
        return bad is null ? new IntakeAnswer(marks, gaps, fresh, conflicts) : throw bad;
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

    private void Take(V1.IntakeEntry entry, IReadOnlyDictionary<RecordKey, byte[]> known, List<string> epochs)
    {
        V1.Record record = entry.Delivered.Record;
        RecordKey key = IntakeCodec.KeyOf(record);
        string board = BoardOrigin.Join(entry.Delivered.Board, entry.Delivered.Origin);
        byte[] hash = SHA256.HashData(record.Payload.Span);
        bool conflicting = entry.Delivered.Conflicting;
        if (known.TryGetValue(key, out byte[]? before) || _pending.TryGetValue(key, out before))
        {
            if (before.AsSpan().SequenceEqual(hash))
            {
                Counters.AddDuplicate();
                return;
            }

            var conflict = (key, Convert.ToHexStringLower(hash));
            if (_pendingConflicts.Contains(conflict) || _projection.Store.HasConflict(key, hash))
            {
                Counters.AddDuplicate();
                return;
            }

            conflicting = true;
            _pendingConflicts.Add(conflict);
            Counters.AddConflict();
        }

        entry.Delivered.Conflicting = conflicting;
        _log.Append(Stamp(), IntakeCodec.Encode(entry));
        if (!conflicting)
        {
            _pending[key] = hash;
            _ledger.Receive(key.Epoch, board, key.Sequence);
            Counters.AddReceived(record.Payload.Length);
            if (IntakeCodec.LostRangeOf(record.Payload.Span) is { } lost)
            {
                _ledger.Lose(lost.Epoch, board, lost.FirstSequence, lost.LastSequence);
                Counters.AddMissing(Math.Max(0, lost.LastSequence - lost.FirstSequence + 1));
                if (!epochs.Contains(lost.Epoch))
                {
                    epochs.Add(lost.Epoch);
                }
            }
        }
    }

    private IReadOnlyDictionary<RecordKey, byte[]> KnownHashes(IReadOnlyList<V1.Record> records)
    {
        // Only what the ledger has passed can be in the store already: at or below the mark, or beyond a hole that an explanation or a
        // power cut (which may keep a later entry of the log and lose an earlier one) has left.
        List<RecordKey> asked = [.. records
            .Where(r => EntryStore.WhatIsWrong(r) is null)
            .Select(IntakeCodec.KeyOf)
            .Where(key => _ledger.HasPassed(key.Epoch, key.Sequence))];
        return asked.Count == 0 ? new Dictionary<RecordKey, byte[]>() : _projection.Store.HashesOf(asked);
    }

    /// <summary>
    /// A record that declares an earlier range of its own epoch lost stands behind the very hole it explains: it is taken in beyond the
    /// hole, or the mark would wait for ever.
    /// </summary>
    internal static bool ExplainsItsOwnEpoch(V1.Record record, RecordKey key) =>
        IntakeCodec.LostRangeOf(record.Payload.Span) is { } lost && lost.Epoch == key.Epoch && lost.LastSequence < key.Sequence;

    private void Forget(IReadOnlyList<StoredRecord> applied)
    {
        lock (_gate)
        {
            foreach (StoredRecord record in applied)
            {
                if (record.Conflicting)
                {
                    _pendingConflicts.Remove((record.Key, Convert.ToHexStringLower(record.Hash)));
                }
                else
                {
                    _pending.Remove(record.Key);
                }
            }
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
