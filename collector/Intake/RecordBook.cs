using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Storage;
using Cardassay.Identity;
using Cardassay.Trials;
using Cardassay.Wire;

namespace Cardassay.Collector.Intake;

/// <summary>
/// What the records of a store say, by run and by board. They may be added in any order and at any time: what is told of them is the same.
/// Not safe for several threads.
/// </summary>
/// <param name="records">Reads the trials of runs that are over again; null keeps them in memory.</param>
internal sealed class RecordBook(ReadRecords? records)
{
    private readonly SharedTexts _shared = new();
    private readonly Dictionary<RunId, RunEntry> _runs = [];
    private readonly Dictionary<string, BoardAccount> _boards = new(StringComparer.Ordinal);

    /// <summary>All records of a store that stands still meanwhile, and stays open as long as the trials of a run are asked for.</summary>
    internal static RecordBook Of(IRecordStore store) => Of(store, store.Runs is { } index ? index.Records : null);

    /// <summary>All records of a store that stands still meanwhile.</summary>
    /// <param name="store">The store.</param>
    /// <param name="records">Reads from it later.</param>
    internal static RecordBook Of(IRecordStore store, ReadRecords? records)
    {
        var book = new RecordBook(records);
        RunReading.Read(store, book.Add, book.Add);
        return book;
    }

    /// <summary>The boards, by the names their records are kept under.</summary>
    internal IReadOnlyCollection<string> Boards => _boards.Keys;

    /// <summary>Adds a record that is no conflict. Nobody adds one twice.</summary>
    internal void Add(StoredRecord record)
    {
        BoardAccount board = AccountOf(record.Board);
        board.Received++;
        board.Newest = Math.Max(board.Newest, record.ReceivedUnixNs);
        if (Take(record, board) is { Closed: not null } share && ObservationHeads.ClosesRun(record.Payload))
        {
            Shorten(share);
        }
    }

    /// <summary>Adds what is kept of the records of a run, none of which is added otherwise.</summary>
    internal void Add(StoredRun run, V1.KeptRun kept)
    {
        BoardAccount board = AccountOf(run.Key.Board);
        board.Received += run.Records;
        board.Newest = Math.Max(board.Newest, kept.NewestReceivedUnixNs);
        foreach (V1.KeptRecord told in kept.Told)
        {
            Take(RunReading.AsRecord(run.Key, told), board);
        }

        if (!kept.HasFirstSequence)
        {
            return; // nothing of it can be read
        }

        var key = new RunKey(_shared.Text(run.Key.Epoch), _shared.Text(run.Key.Board), run.Key.Run);
        RunShare share = ShareOf(RunEntryOf(new RunId(Guid.Parse(run.Key.Run))), key, kept.FirstSequence, kept.FirstReceivedUnixNs);
        share.Last = run.Last;
        share.Figures = kept.Figures.IsEmpty ? null : kept.Figures.ToByteArray();
        share.IsInStore = true;
    }

    private BoardAccount AccountOf(string board)
    {
        if (!_boards.TryGetValue(board, out BoardAccount? account))
        {
            _boards[_shared.Text(board)] = account = new BoardAccount();
        }

        return account;
    }

    private RunEntry RunEntryOf(RunId id)
    {
        if (!_runs.TryGetValue(id, out RunEntry? run))
        {
            _runs[id] = run = new RunEntry();
        }

        run.Built = null;
        return run;
    }

    private static RunShare ShareOf(RunEntry run, RunKey key, long sequence, long receivedUnixNs)
    {
        if (run.Shares.Find(s => s.Key == key) is not { } share)
        {
            run.Shares.Add(share = new RunShare(key));
        }

        share.FirstReceived = Math.Min(share.FirstReceived, receivedUnixNs);
        (share.First, share.Last) = (Math.Min(share.First, sequence), Math.Max(share.Last, sequence));
        return share;
    }

    /// <summary>What it is of; null for a record that is of no run.</summary>
    private RunShare? Take(StoredRecord taken, BoardAccount board)
    {
        StoredRecord record = taken with { Key = taken.Key with { Epoch = _shared.Text(taken.Key.Epoch) }, Board = _shared.Text(taken.Board) };
        switch (Decode(record, board))
        {
            case RangeLost lost:
                board.Gaps += lost.LastSequence - lost.FirstSequence + 1;
                board.Findings.Add((record.Key, name => IntakeFindings.Lost(name, lost.Epoch, lost.FirstSequence, lost.LastSequence, lost.Reason)));
                break;
            case RunObservation of:
                RunShare share = ShareOf(RunEntryOf(of.RunId), KeyOf(record, of), record.Key.Sequence, record.ReceivedUnixNs);
                Add(share, record, of);
                if (of is RunOpened { BoardModel: { } model } && (board.Model is not { } known || RecordOrder.Compare(record.Key, known.Key) > 0))
                {
                    board.Model = (record.Key, _shared.Text(model));
                }

                return share;
            default:
                break;
        }

        return null;
    }

    /// <summary>Everything that was said, without that of collectors that were taken back.</summary>
    /// <param name="collectors">How other collectors are regarded.</param>
    /// <param name="shown">What to call a board, by the name its records are kept under.</param>
    internal RecordsSaid Read(CollectorsRegarded collectors, Func<string, string> shown)
    {
        bool Counts(string board) => !collectors.IsTakenBack(BoardOrigin.Split(board).Origin);
        KeyValuePair<string, BoardAccount>[] boards = [.. _boards.Where(b => Counts(b.Key))];
        return new RecordsSaid(
            [.. _runs.Values.Select(run => Build(run, Counts, shown)).OfType<RunRecord>().OrderBy(r => r.Key, RecordOrder.ByKey)],
            [
                .. boards.Select(b => new BoardRecord(shown(b.Key), b.Value.Model?.Text, MasterDataLoader.Time(b.Value.Newest)))
                    .OrderBy(b => b.Name, StringComparer.Ordinal),
            ],
            [.. boards.SelectMany(b => b.Value.Findings.Select(f => (f.Key, Finding: f.Say(shown(b.Key))))).OrderBy(f => f.Key, RecordOrder.ByKey).Select(f => f.Finding)],
            boards.Sum(b => b.Value.Received),
            boards.Sum(b => b.Value.Gaps),
            boards.Select(b => b.Value.Newest).DefaultIfEmpty().Max());
    }

    private static Observation? Decode(StoredRecord record, BoardAccount board)
    {
        try
        {
            return ObservationCodec.Decode(record.Payload);
        }
        catch (WireFormatException e)
        {
            (RecordKey key, string why) = (record.Key, e.Message); // a function that is kept would hold the record, and all its bytes
            board.Findings.Add((key, name => IntakeFindings.Unreadable(name, key, why)));
            return null;
        }
    }

    private static RunKey KeyOf(StoredRecord record, RunObservation of) => new(record.Key.Epoch, record.Board, of.RunId.ToString());

    private void Add(RunShare share, StoredRecord record, RunObservation observation)
    {
        if (observation is not (ProofMeasured or ConditionsSampled or RunClosed))
        {
            share.Figures = null; // they follow from all of these
        }

        switch (observation)
        {
            case RunOpened opened when share.Opened is not { } known || RecordOrder.Compare(record.Key, known.By.Key) > 0:
                share.Opened = (record with { Payload = [], Hash = [] }, _shared.Keep(opened));
                break;
            case CardIdentified card when share.Card is not { } known || RecordOrder.Compare(record.Key, known.Key) < 0:
                share.Card = (record.Key, _shared.Keep(card));
                break;
            case TrialMeasured trial when !share.IsInStore:
                share.Trials.Add(TrialParts.AsTrial(record, trial));
                break;
            case ProofMeasured proof:
                var next = new ProofRecord(record.Key, proof);
                share.Proofs[proof.Index] = share.Proofs.TryGetValue(proof.Index, out ProofRecord? before) ? Later(before, next) : next;
                break;
            case RunClosed closed when share.Closed is not { } known || RecordOrder.Compare(record.Key, known.Key) > 0:
                share.Closed = (record.Key, closed);
                break;
            default:
                break;
        }
    }

    /// <summary>Keeps of a run that is over its figures: a laboratory of ten years has millions of trials.</summary>
    private void Shorten(RunShare share)
    {
        if (records is not null && share is { Figures: null, Opened: { } opened })
        {
            share.Figures = RunFiguresCodec.Encode(RunFigures.Of(opened.Opened, share.Card?.Card, TrialParts.Of(TrialsOf(share))));
            share.IsInStore = true;
            share.Trials.Clear();
        }
    }

    private IEnumerable<TrialRecord> TrialsOf(RunShare share) =>
        share.IsInStore ? TrialParts.Among(share.Key, records!(share.Key.Epoch, share.First, share.Last)) : share.Trials;

    /// <summary>Of a proof in parts the last part holds everything.</summary>
    private static ProofRecord Later(ProofRecord one, ProofRecord other) =>
        (one.Proof.Part, RecordOrder.Compare(one.Key, other.Key)).CompareTo((other.Proof.Part, 0)) > 0 ? one : other;

    /// <summary>The run, or null when the record that opened it is missing (which is a gap, reported as such).</summary>
    private RunRecord? Build(RunEntry run, Func<string, bool> counts, Func<string, string> shown)
    {
        if (run.Shares is [var only] && run.Built is { } built)
        {
            string name = shown(only.Opened!.Value.By.Board);
            return !counts(only.Key.Board) ? null : built.Board == name ? built : built with { Board = name };
        }

        RunShare[] shares = [.. run.Shares.Where(s => counts(s.Key.Board))];
        if (shares.Where(s => s.Opened is not null).MaxBy(s => s.Opened!.Value.By.Key, RecordOrder.ByKey)?.Opened is not { } opened)
        {
            return null;
        }

        RunShare? single = shares is [var share] ? share : null;
        if (single is { Closed: not null })
        {
            Shorten(single); // something came to it after its end
        }

        run.Built = new RunRecord
        {
            Key = opened.By.Key,
            Board = shown(opened.By.Board),
            Origin = _shared.Text(BoardOrigin.Split(shares.MinBy(s => new RecordKey(s.Key.Epoch, s.First), RecordOrder.ByKey)!.Key.Board).Origin),
            Opened = opened.Opened,
            Card = shares.Where(s => s.Card is not null).MinBy(s => s.Card!.Value.Key, RecordOrder.ByKey)?.Card?.Card,
            Trials = single?.Figures is null ? TrialParts.Of(shares.SelectMany(TrialsOf)) : [],
            Told = single is { Figures: { } figures } ? new ToldTrials(figures, single.Key, single.First, single.Last, records!) : null,
            Proofs = [.. shares.SelectMany(s => s.Proofs).GroupBy(p => p.Key, p => p.Value).OrderBy(g => g.Key).Select(g => g.Aggregate(Later))],
            Closed = shares.Where(s => s.Closed is not null).MaxBy(s => s.Closed!.Value.Key, RecordOrder.ByKey)?.Closed?.Closed,
            OpenedAt = MasterDataLoader.Time(opened.By.WallUnixNs),
            ReceivedAt = MasterDataLoader.Time(shares.Min(s => s.FirstReceived)),
            ClockOffset = TimeSpan.FromTicks(opened.By.ClockOffsetNs / 100),
        };
        return run.Built;
    }

    /// <summary>A run, and what is told of it as long as nothing more of it comes.</summary>
    private sealed class RunEntry
    {
        internal List<RunShare> Shares { get; } = [];

        internal RunRecord? Built { get; set; }
    }

    /// <summary>What of a run came in one journal under one name of a board: nearly always everything.</summary>
    private sealed class RunShare(RunKey key)
    {
        internal RunKey Key { get; } = key;

        /// <summary>Lowest sequence of its records.</summary>
        internal long First { get; set; } = long.MaxValue;

        /// <summary>Highest one.</summary>
        internal long Last { get; set; } = long.MinValue;

        internal long FirstReceived { get; set; } = long.MaxValue;

        /// <summary>The figures of all its trials; null while it is open, and after more came to it.</summary>
        internal byte[]? Figures { get; set; }

        /// <summary>True once its trials are no more here and have to be read from the store.</summary>
        internal bool IsInStore { get; set; }

        internal (StoredRecord By, RunOpened Opened)? Opened { get; set; }

        internal (RecordKey Key, CardIdentified Card)? Card { get; set; }

        internal List<TrialRecord> Trials { get; } = [];

        internal SortedDictionary<int, ProofRecord> Proofs { get; } = [];

        internal (RecordKey Key, RunClosed Closed)? Closed { get; set; }
    }

    private sealed class BoardAccount
    {
        internal long Received { get; set; }

        internal long Newest { get; set; }

        internal long Gaps { get; set; }

        internal (RecordKey Key, string Text)? Model { get; set; }

        /// <summary>What is to be said of its records, once it is known what the board is called.</summary>
        internal List<(RecordKey Key, Func<string, Finding> Say)> Findings { get; } = [];
    }
}

/// <summary>What the records of a store say.</summary>
/// <param name="Runs">The runs whose opening is there, by (epoch, sequence) of it.</param>
/// <param name="Boards">The boards, by name.</param>
/// <param name="Findings">What was lost or cannot be read, by (epoch, sequence).</param>
/// <param name="Received">Number of records.</param>
/// <param name="Gaps">Records that a board said are lost.</param>
/// <param name="NewestUnixNs">When the newest was received, ns since 1970; 0 when there is none.</param>
internal sealed record RecordsSaid(
    IReadOnlyList<RunRecord> Runs, IReadOnlyList<BoardRecord> Boards, IReadOnlyList<Finding> Findings, long Received, long Gaps, long NewestUnixNs);
