using System.Globalization;
using System.Security.Cryptography;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Files;
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

    /// <summary>
    /// Most pieces of records that stand one behind the other. There is no limit of records: an export has them in their order, so that a
    /// journal is one piece, and a hole in it begins another. Each takes a hundred bytes while they are sorted.
    /// </summary>
    private const int MostPieces = 500_000;

    /// <summary>Most notes and journals taken over at once: three times what ten years of a laboratory were reckoned to hold.</summary>
    private const int MostEvents = 200_000;

    /// <inheritdoc cref="MostEvents"/>
    private const int MostEpochs = 100_000;

    /// <summary>Most bytes of notes and of records in conflict: every report holds these as a whole.</summary>
    internal const long MostHeldBytes = 256L << 20;

    private const string Instead = ", and every report would hold them in memory; let both collectors share a PostgreSQL database instead";

    private readonly IRecordStore _store;
    private readonly EntrySpool _spool;
    private readonly string _origin;
    private readonly long _nowUnixNs;
    private readonly EpochLedger _ledger;
    private readonly List<Step> _steps = [];
    private readonly List<string> _refused = [];
    private long _heldBytes;

    private MergePlan(IRecordStore store, EntrySpool spool, string origin, long nowUnixNs)
    {
        _store = store;
        _spool = spool;
        _origin = origin;
        _nowUnixNs = nowUnixNs;
        _ledger = new EpochLedger(store.Marks());
    }

    /// <summary>What to append, in order, read from the disk one after the other.</summary>
    internal IEnumerable<V1.IntakeEntry> Entries => _steps.SelectMany(Own);

    /// <summary>The counts for a person.</summary>
    internal V1.Merged Summary { get; } = new();

    /// <summary>Plans the merge.</summary>
    /// <param name="store">The store, at the end of the intake log.</param>
    /// <param name="spool">Entries of the other collector. They stay on the disk; what stands in memory of a record is where it is.</param>
    /// <param name="origin">Its name.</param>
    /// <param name="nowUnixNs">This collector's wall clock, ns since 1970.</param>
    /// <exception cref="EvidenceException">There are more than can be sorted.</exception>
    internal static MergePlan Of(IRecordStore store, EntrySpool spool, string origin, long nowUnixNs)
    {
        var plan = new MergePlan(store, spool, origin, nowUnixNs);
        plan.Read();
        plan.Summary.Refused.AddRange(plan._refused);
        return plan;
    }

    /// <summary>Goes through everything once, decides on the notes, and sorts the records by their journals.</summary>
    private void Read()
    {
        HashSet<string> knownEvents = [.. _store.Events().Select(e => Fingerprint(e.AtUnixNs, e.FromOperator, e.Payload))];
        int mostEvents = knownEvents.Count + MostEvents;
        var journals = new Dictionary<string, MergeJournal>(StringComparer.Ordinal);
        var conflicts = new List<long>();
        int pieces = 0;
        foreach ((long at, long behind, V1.IntakeEntry entry) in _spool.Placed())
        {
            if (!IsBelieved(entry))
            {
                continue;
            }

            if (entry.Delivered is null)
            {
                AddEvent(at, behind, entry, knownEvents);
            }
            else if (IsRecord(entry))
            {
                RecordKey key = IntakeCodec.KeyOf(entry.Delivered.Record);
                if (entry.Delivered.Conflicting)
                {
                    _heldBytes += behind - at;
                    conflicts.Add(at);
                }
                else
                {
                    if (!journals.TryGetValue(key.Epoch, out MergeJournal? journal))
                    {
                        journals[key.Epoch] = journal = new MergeJournal(key.Epoch);
                    }

                    pieces += journal.Add(new MergeJournal.Placed(key.Sequence, at, Explains(entry)), behind) ? 0 : 1;
                }
            }

            CheckLimits(pieces, knownEvents.Count > mostEvents, journals.Count);
        }

        AddRecords([.. journals.Values.OrderBy(j => j.Epoch, StringComparer.Ordinal)]);
        AddConflicts(conflicts);
    }

    private void CheckLimits(int pieces, bool hasTooManyEvents, int journals)
    {
        string? tooMuch = pieces > MostPieces
            ? $"its records stand out of their order, in more than {MostPieces} pieces: have `export --format raw` write it anew"
            : hasTooManyEvents ? $"it holds more than {MostEvents} notes (claims, imports, gaps){Instead}"
            : journals > MostEpochs ? $"it holds more than {MostEpochs} journals{Instead}"
            : _heldBytes > MostHeldBytes ? $"its notes and records in conflict have more than {MostHeldBytes >> 20} MiB{Instead}"
            : null;
        if (tooMuch is not null)
        {
            throw new EvidenceException($"The export cannot be taken over: {tooMuch}.");
        }
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

    private static bool IsName(string name) => name.Length > 0 && BoardNames.Clean(name) == name;

    private void AddRecords(MergeJournal[] journals)
    {
        // A range that one journal declares lost may stand in the journal that followed it, so that they are gone through until none moves.
        bool moved = true;
        while (moved)
        {
            moved = false;
            foreach (MergeJournal journal in journals)
            {
                while (journal.Next is { } next && (next.Explains || next.Sequence <= _ledger.Through(journal.Epoch) + 1))
                {
                    journal.Pass(AddRecord(journal, next));
                    moved = true;
                }
            }
        }

        foreach (MergeJournal journal in journals.Where(j => j.Left > 0))
        {
            Refuse(string.Create(
                CultureInfo.InvariantCulture,
                $"Journal {journal.Epoch}: record {_ledger.Through(journal.Epoch) + 1} is missing, so the {journal.Left} records behind it were not taken. Export again from the collector that has them."));
        }
    }

    private static bool Explains(V1.IntakeEntry entry) =>
        IntakeCodec.ExplainsItsOwnEpoch(IntakeCodec.LostRangeOf(entry.Delivered.Record.Payload.Span), IntakeCodec.KeyOf(entry.Delivered.Record));

    /// <returns>Where the entry behind it lies.</returns>
    private long AddRecord(MergeJournal journal, MergeJournal.Placed placed)
    {
        V1.IntakeEntry entry = _spool.At(placed.At, out long behind);
        V1.Record record = entry.Delivered.Record;
        var key = new RecordKey(journal.Epoch, placed.Sequence);
        byte[] hash = SHA256.HashData(record.Payload.Span);
        if (journal.Known(_store) is { } before)
        {
            if (before.AsSpan().SequenceEqual(hash) || _store.HasConflict(key, hash))
            {
                Summary.RecordsKnown++;
                _ledger.Receive(key.Epoch, entry.Delivered.Board, key.Sequence); // a store shared by collectors may know it beyond this one's mark
                return behind;
            }

            Append(placed.At, behind, isConflict: true);
            Summary.Conflicts++;
            return behind;
        }

        journal.Take(placed, hash);
        Append(placed.At, behind, isConflict: false);
        Summary.RecordsNew++;
        _ledger.Receive(key.Epoch, entry.Delivered.Board, key.Sequence);
        if (IntakeCodec.LostRangeOf(record.Payload.Span) is { } lost)
        {
            _ledger.Lose(lost.Epoch, entry.Delivered.Board, lost.FirstSequence, lost.LastSequence);
        }

        return behind;
    }

    /// <summary>What the other collector kept as a conflict stays one, unless it is the very content this collector has.</summary>
    private void AddConflicts(List<long> conflicts)
    {
        foreach (long at in conflicts)
        {
            V1.IntakeEntry entry = _spool.At(at, out long behind);
            RecordKey key = IntakeCodec.KeyOf(entry.Delivered.Record);
            byte[] hash = SHA256.HashData(entry.Delivered.Record.Payload.Span);
            if ((_store.HashesOf([key]).TryGetValue(key, out byte[]? first) && first.AsSpan().SequenceEqual(hash)) || _store.HasConflict(key, hash))
            {
                Summary.RecordsKnown++;
            }
            else
            {
                Append(at, behind, isConflict: true);
                Summary.Conflicts++;
            }
        }
    }

    private void Append(long at, long behind, bool isConflict)
    {
        if (_steps.Count > 0 && _steps[^1] is var last && last.Behind == at && last.IsConflict == isConflict)
        {
            _steps[^1] = last with { Behind = behind };
        }
        else
        {
            _steps.Add(new Step(at, behind, isConflict));
        }
    }

    /// <summary>The entries of a step as this collector appends them: with whose they were and when they were taken over.</summary>
    private IEnumerable<V1.IntakeEntry> Own(Step step)
    {
        for (long at = step.At; at < step.Behind;)
        {
            yield return Own(_spool.At(at, out at), step.IsConflict);
        }
    }

    private V1.IntakeEntry Own(V1.IntakeEntry own, bool isConflict)
    {
        own.MergedUnixNs = _nowUnixNs;
        if (own.Delivered is { } delivered)
        {
            delivered.Conflicting = isConflict;
            delivered.Origin = Origin(delivered.Origin);
        }
        else if (own.OperatorEvent is { } said)
        {
            said.Origin = Origin(said.Origin);
        }
        else
        {
            own.CollectorEvent.Origin = Origin(own.CollectorEvent.Origin);
        }

        return own;
    }

    private void AddEvent(long at, long behind, V1.IntakeEntry entry, HashSet<string> known)
    {
        byte[] payload;
        if (entry.OperatorEvent is { } said)
        {
            if (said.KindCase is not (V1.OperatorEvent.KindOneofCase.Claim or V1.OperatorEvent.KindOneofCase.HandKept or V1.OperatorEvent.KindOneofCase.ImportWithdrawn
                or V1.OperatorEvent.KindOneofCase.TagGiven or V1.OperatorEvent.KindOneofCase.SameCard))
            {
                Summary.LeftOut++;
                return;
            }

            if (Problem(said) is { } problem)
            {
                Refuse(problem);
                return;
            }

            payload = said.ToByteArray();
        }
        else if (entry.CollectorEvent is { KindCase: V1.CollectorEvent.KindOneofCase.Gap or V1.CollectorEvent.KindOneofCase.JournalDoubt
            or V1.CollectorEvent.KindOneofCase.IntakeLoss or V1.CollectorEvent.KindOneofCase.Recovered } noticed)
        {
            if (noticed.Gap is { } gap && (gap.Epoch.Length != 16 || gap.FirstSequence is 0 or > long.MaxValue || gap.LastSequence is > long.MaxValue || gap.LastSequence < gap.FirstSequence))
            {
                Refuse("A gap was not taken: it names no range of a journal.");
                return;
            }

            if ((noticed.IntakeLoss is { } gone ? [gone] : noticed.Recovered?.Losses.ToArray() ?? [])
                .Any(l => l.LogEpoch.Length != 32 || l.FirstSequence is 0 or > long.MaxValue || l.LastSequence is > long.MaxValue || l.LastSequence < l.FirstSequence))
            {
                Refuse("A loss was not taken: it names no range of a log.");
                return;
            }

            payload = noticed.ToByteArray();
        }
        else
        {
            Summary.LeftOut++;
            return;
        }

        if (!known.Add(Fingerprint(entry.ReceivedUnixNs, entry.OperatorEvent is not null, payload)))
        {
            Summary.EventsKnown++;
            return;
        }

        _heldBytes += behind - at;
        Append(at, behind, isConflict: false);
        Summary.EventsNew++;
        if (entry.CollectorEvent?.Gap is { } lost)
        {
            _ledger.Lose(Convert.ToHexStringLower(lost.Epoch.Span), lost.Board, (long)lost.FirstSequence, (long)lost.LastSequence);
        }
    }

    private string? Problem(V1.OperatorEvent said)
    {
        try
        {
            DateOnly today = DateOnly.FromDateTime(MasterDataLoader.Time(_nowUnixNs + FutureNs).UtcDateTime);
            return said.Claim is { } claim && ClaimCheck.Problems(ClaimCodec.FromMessage(claim)) is [{ } first, ..] ? $"The claim on card {claim.Tag} was not taken: {first}"
                : said.TagGiven is { } given && ClaimCheck.TagProblem(given.Tag) is { } tag ? $"A tag given there was not taken: {tag}"
                : said.SameCard is { } same && (ClaimCheck.NameProblem(same.Tag) ?? ClaimCheck.NameProblem(same.Other)) is { } name ? $"What was said there of two cards was not taken: {name}"
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

    /// <summary>Entries to append that lie one behind the other.</summary>
    private readonly record struct Step(long At, long Behind, bool IsConflict);
}
