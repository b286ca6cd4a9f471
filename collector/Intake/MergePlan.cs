using System.Globalization;
using System.Security.Cryptography;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Storage;
using Cardassay.Identity;
using Cardassay.Trials;
using Cardassay.Wire;
using Google.Protobuf;

namespace Cardassay.Collector.Intake;

/// <summary>
/// What of another collector's entries is new here, in the order in which it can be appended: journals without a hole, ranges
/// declared lost before what follows them. Nothing is written; a dry run shows it, the intake desk carries it out.
/// </summary>
internal sealed class MergePlan
{
    private static readonly long FutureNs = 24L * 3600 * 1_000_000_000;

    private readonly IRecordStore _store;
    private readonly string _origin;
    private readonly long _nowUnixNs;
    private readonly EpochLedger _ledger;
    private readonly List<V1.IntakeEntry> _entries = [];
    private readonly List<string> _refused = [];

    private MergePlan(IRecordStore store, string origin, long nowUnixNs)
    {
        _store = store;
        _origin = origin;
        _nowUnixNs = nowUnixNs;
        _ledger = new EpochLedger(store.Marks());
    }

    /// <summary>What to append, in order.</summary>
    internal IReadOnlyList<V1.IntakeEntry> Entries => _entries;

    /// <summary>The counts for a person.</summary>
    internal V1.Merged Summary { get; } = new();

    /// <summary>Plans the merge.</summary>
    /// <param name="store">The store, at the end of the intake log.</param>
    /// <param name="entries">Entries of the other collector.</param>
    /// <param name="origin">Its name.</param>
    /// <param name="nowUnixNs">This collector's wall clock, ns since 1970.</param>
    internal static MergePlan Of(IRecordStore store, IReadOnlyList<V1.IntakeEntry> entries, string origin, long nowUnixNs)
    {
        var plan = new MergePlan(store, origin, nowUnixNs);
        V1.IntakeEntry[] believed = [.. entries.Where(plan.IsBelieved)];
        plan.AddEvents([.. believed.Where(e => e.Delivered is null)]);
        V1.IntakeEntry[] records = [.. believed.Where(plan.IsRecord)];
        plan.AddRecords([.. records.Where(e => !e.Delivered.Conflicting)]);
        plan.AddConflicts([.. records.Where(e => e.Delivered.Conflicting)]);
        plan.Summary.Refused.AddRange(plan._refused);
        return plan;
    }

    private bool IsBelieved(V1.IntakeEntry entry)
    {
        if (entry.ReceivedUnixNs >= 0 && entry.ReceivedUnixNs <= _nowUnixNs + FutureNs)
        {
            return true;
        }

        Refuse($"An entry says it was received at {MasterDataLoader.Time(Math.Max(0, entry.ReceivedUnixNs)):yyyy-MM-dd}, which is no time before now: set the clock of the collector it comes from.");
        return false;
    }

    private bool IsRecord(V1.IntakeEntry entry)
    {
        if (entry.Delivered is not { } delivered)
        {
            return false;
        }

        string? wrong = EntryStore.WhatIsWrong(delivered.Record)
            ?? (IsName(delivered.Board) ? null : $"\"{delivered.Board}\" is not a board's name")
            ?? (delivered.Origin.Length == 0 || IsName(delivered.Origin) ? null : $"\"{delivered.Origin}\" is not a collector's name");
        if (wrong is not null)
        {
            Refuse($"A record was not taken: {wrong}.");
        }

        return wrong is null;
    }

    private static bool IsName(string name) => name.Length > 0 && BoardRegistry.CleanName(name) == name;

    private void AddRecords(V1.IntakeEntry[] records)
    {
        // One queue for each epoch, in front what explains a hole before it. A range that one journal declares lost may stand in the journal that followed it, so that the
        // queues are gone through until none moves.
        Dictionary<string, Queue<V1.IntakeEntry>> queues = records
            .GroupBy(e => IntakeCodec.KeyOf(e.Delivered.Record).Epoch, StringComparer.Ordinal)
            .OrderBy(g => g.Key, StringComparer.Ordinal)
            .ToDictionary(g => g.Key, g => new Queue<V1.IntakeEntry>(g.OrderBy(e => !Explains(e)).ThenBy(e => e.Delivered.Record.Sequence)), StringComparer.Ordinal);
        IReadOnlyDictionary<RecordKey, byte[]> known = _store.HashesOf([.. records.Select(e => IntakeCodec.KeyOf(e.Delivered.Record))]);
        var taken = new Dictionary<RecordKey, byte[]>();
        bool moved = true;
        while (moved)
        {
            moved = false;
            foreach ((string epoch, Queue<V1.IntakeEntry> queue) in queues)
            {
                while (queue.TryPeek(out V1.IntakeEntry? entry) && (Explains(entry) || (long)entry.Delivered.Record.Sequence <= _ledger.Through(epoch) + 1))
                {
                    queue.Dequeue();
                    AddRecord(entry, known, taken);
                    moved = true;
                }
            }
        }

        foreach ((string epoch, Queue<V1.IntakeEntry> queue) in queues.Where(q => q.Value.Count > 0))
        {
            Refuse(string.Create(
                CultureInfo.InvariantCulture,
                $"Journal {epoch}: record {_ledger.Through(epoch) + 1} is missing, so the {queue.Count} records behind it were not taken. Export again from the collector that has them."));
        }
    }

    private static bool Explains(V1.IntakeEntry entry) =>
        IntakeCodec.ExplainsItsOwnEpoch(IntakeCodec.LostRangeOf(entry.Delivered.Record.Payload.Span), IntakeCodec.KeyOf(entry.Delivered.Record));

    private void AddRecord(V1.IntakeEntry entry, IReadOnlyDictionary<RecordKey, byte[]> known, Dictionary<RecordKey, byte[]> taken)
    {
        V1.Record record = entry.Delivered.Record;
        RecordKey key = IntakeCodec.KeyOf(record);
        byte[] hash = SHA256.HashData(record.Payload.Span);
        if (known.TryGetValue(key, out byte[]? before) || taken.TryGetValue(key, out before))
        {
            if (before.AsSpan().SequenceEqual(hash) || _store.HasConflict(key, hash))
            {
                Summary.RecordsKnown++;
                _ledger.Receive(key.Epoch, entry.Delivered.Board, key.Sequence); // a store shared by collectors may know it beyond this one's mark
                return;
            }

            Append(entry, conflicting: true);
            Summary.Conflicts++;
            return;
        }

        taken[key] = hash;
        Append(entry, conflicting: false);
        Summary.RecordsNew++;
        _ledger.Receive(key.Epoch, entry.Delivered.Board, key.Sequence);
        if (IntakeCodec.LostRangeOf(record.Payload.Span) is { } lost)
        {
            _ledger.Lose(lost.Epoch, entry.Delivered.Board, lost.FirstSequence, lost.LastSequence);
        }
    }

    /// <summary>What the other collector kept as a conflict stays one, unless it is the very content this collector has.</summary>
    private void AddConflicts(V1.IntakeEntry[] records)
    {
        IReadOnlyDictionary<RecordKey, byte[]> known = _store.HashesOf([.. records.Select(e => IntakeCodec.KeyOf(e.Delivered.Record))]);
        foreach (V1.IntakeEntry entry in records)
        {
            RecordKey key = IntakeCodec.KeyOf(entry.Delivered.Record);
            byte[] hash = SHA256.HashData(entry.Delivered.Record.Payload.Span);
            if ((known.TryGetValue(key, out byte[]? first) && first.AsSpan().SequenceEqual(hash)) || _store.HasConflict(key, hash))
            {
                Summary.RecordsKnown++;
            }
            else
            {
                Append(entry, conflicting: true);
                Summary.Conflicts++;
            }
        }
    }

    private void Append(V1.IntakeEntry entry, bool conflicting)
    {
        V1.IntakeEntry own = entry.Clone();
        own.MergedUnixNs = _nowUnixNs;
        own.Delivered.Conflicting = conflicting;
        own.Delivered.Origin = Origin(own.Delivered.Origin);
        _entries.Add(own);
    }

    private void AddEvents(V1.IntakeEntry[] events)
    {
        HashSet<string> known = [.. _store.Events().Select(e => Fingerprint(e.AtUnixNs, e.FromOperator, e.Payload))];
        foreach (V1.IntakeEntry entry in events)
        {
            V1.IntakeEntry own = entry.Clone();
            own.MergedUnixNs = _nowUnixNs;
            byte[] payload;
            if (own.OperatorEvent is { } said)
            {
                if (said.KindCase is not (V1.OperatorEvent.KindOneofCase.Claim or V1.OperatorEvent.KindOneofCase.HandKept or V1.OperatorEvent.KindOneofCase.ImportWithdrawn))
                {
                    Summary.LeftOut++;
                    continue;
                }

                if (Problem(said) is { } problem)
                {
                    Refuse(problem);
                    continue;
                }

                said.Origin = Origin(said.Origin);
                payload = said.ToByteArray();
            }
            else if (own.CollectorEvent is { KindCase: V1.CollectorEvent.KindOneofCase.Gap or V1.CollectorEvent.KindOneofCase.JournalDoubt } noticed)
            {
                if (noticed.Gap is { } gap && (gap.Epoch.Length != 16 || gap.FirstSequence is 0 or > long.MaxValue || gap.LastSequence is > long.MaxValue || gap.LastSequence < gap.FirstSequence))
                {
                    Refuse("A gap was not taken: it names no range of a journal.");
                    continue;
                }

                noticed.Origin = Origin(noticed.Origin);
                payload = noticed.ToByteArray();
            }
            else
            {
                Summary.LeftOut++;
                continue;
            }

            if (!known.Add(Fingerprint(own.ReceivedUnixNs, own.OperatorEvent is not null, payload)))
            {
                Summary.EventsKnown++;
                continue;
            }

            _entries.Add(own);
            Summary.EventsNew++;
            if (own.CollectorEvent?.Gap is { } lost)
            {
                _ledger.Lose(Convert.ToHexStringLower(lost.Epoch.Span), lost.Board, (long)lost.FirstSequence, (long)lost.LastSequence);
            }
        }
    }

    private string? Problem(V1.OperatorEvent said)
    {
        try
        {
            DateOnly today = DateOnly.FromDateTime(MasterDataLoader.Time(_nowUnixNs + FutureNs).UtcDateTime);
            return said.Claim is { } claim && ClaimCheck.Problems(ClaimCodec.FromMessage(claim)) is [{ } first, ..] ? $"The claim on card {claim.Tag} was not taken: {first}"
                : said.HandKept?.Figures
                    .Select(f => HandKeptCheck.RowProblem(f.Tag, f.HasDay ? f.Day : "", today) ?? HandKeptCheck.FigureProblem((TrialKind)f.Kind, f.Value))
                    .FirstOrDefault(p => p is not null) is { } wrong ? $"The import {said.HandKept.ImportId} was not taken: {wrong}"
                : null;
        }
        catch (WireFormatException e)
        {
            return $"A claim was not taken: {e.Message}";
        }
    }

    private string Origin(string origin) => origin.Length == 0 ? _origin : origin;

    /// <summary>The same event whoever tells of it: who it was taken over from is no part of it.</summary>
    private static string Fingerprint(long atUnixNs, bool fromOperator, byte[] payload)
    {
        byte[] bare;
        if (fromOperator)
        {
            V1.OperatorEvent said = V1.OperatorEvent.Parser.ParseFrom(payload);
            said.Origin = "";
            bare = said.ToByteArray();
        }
        else
        {
            V1.CollectorEvent noticed = V1.CollectorEvent.Parser.ParseFrom(payload);
            noticed.Origin = "";
            bare = noticed.ToByteArray();
        }

        return string.Create(CultureInfo.InvariantCulture, $"{atUnixNs} {fromOperator} {Convert.ToHexStringLower(SHA256.HashData(bare))}");
    }

    private void Refuse(string why)
    {
        const int most = 100;
        if (_refused.Count < most && !_refused.Contains(why))
        {
            _refused.Add(why);
        }
    }
}
