using System.Globalization;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Storage;
using Cardassay.Identity;
using Cardassay.Trials;
using Cardassay.Wire;

namespace Cardassay.Collector.Intake;

/// <summary>Reads one consistent snapshot of the master data set from a store.</summary>
internal static class MasterDataLoader
{
    /// <summary>Loads everything.</summary>
    /// <param name="store">A store that stands still while it is read.</param>
    /// <param name="asOf">
    /// The time the snapshot speaks of. Null takes the time of the newest entry, so that the same data give the same report.
    /// </param>
    internal static MasterData Load(IRecordStore store, DateTimeOffset? asOf = null)
    {
        var runs = new Dictionary<RunId, RunBuilder>();
        var boards = new SortedDictionary<string, BoardRecord>(StringComparer.Ordinal);
        var findings = new List<Finding>();
        var doubts = new HashSet<V1.JournalDoubt>();
        var losses = new Losses();
        var acknowledged = new Dictionary<string, (DateTimeOffset At, string Reason)>(StringComparer.Ordinal);
        var lean = new LeanTrials();
        long received = 0;
        long gaps = 0;
        long newest = 0;
        IReadOnlyList<StoredEvent> events = store.Events();
        var collectors = CollectorsRegarded.Of(events);
        Func<string, string> shown = BoardOrigin.Shown(store.Boards(), collectors);
        foreach (StoredRecord kept in store.Records().Where(r => !collectors.IsTakenBack(BoardOrigin.Split(r.Board).Origin)))
        {
            string origin = BoardOrigin.Split(kept.Board).Origin;
            StoredRecord record = kept with { Key = kept.Key with { Epoch = lean.Text(kept.Key.Epoch) }, Board = lean.Text(shown(kept.Board)) };
            received++;
            newest = Math.Max(newest, record.ReceivedUnixNs);
            Observation? observation = Decode(record, findings);
            if (observation is RangeLost lost)
            {
                gaps += lost.LastSequence - lost.FirstSequence + 1;
                findings.Add(Lost(record.Board, lost.Epoch, lost.FirstSequence, lost.LastSequence, lost.Reason));
            }

            string? model = null;
            if (observation is RunObservation of)
            {
                if (!runs.TryGetValue(of.RunId, out RunBuilder? run))
                {
                    runs[of.RunId] = run = new RunBuilder(lean, lean.Text(origin));
                }

                run.Add(record, of);
                model = (of as RunOpened)?.BoardModel;
            }

            boards.TryGetValue(record.Board, out BoardRecord? board);
            DateTimeOffset at = Time(record.ReceivedUnixNs);
            boards[record.Board] = new BoardRecord(
                record.Board, model ?? board?.Model, board?.LastSeen is { } seen && seen > at ? seen : at);
        }

        StoredRecord[] conflicts = [.. store.Conflicts().Where(c => !collectors.IsTakenBack(BoardOrigin.Split(c.Board).Origin))];
        findings.AddRange(conflicts.Select(c => Conflict(c with { Board = shown(c.Board) })));
        var claims = new List<ClaimEntry>();
        var handKept = new HandKeptBook();
        var given = new Dictionary<(string, string, string?, long?), string>();
        var said = new List<(string One, string Other, bool Apart)>();
        foreach (StoredEvent e in events)
        {
            if (e.FromOperator)
            {
                V1.OperatorEvent message = V1.OperatorEvent.Parser.ParseFrom(e.Payload);
                if (collectors.IsTakenBack(message.Origin))
                {
                    continue;
                }

                string stickers = collectors.StickersOf(message.Origin);
                if (message.KindCase is V1.OperatorEvent.KindOneofCase.SameCard or V1.OperatorEvent.KindOneofCase.Regarded)
                {
                    if (message.SameCard is { } same)
                    {
                        said.Add((TagOrigin.Join(same.Tag, stickers), TagOrigin.Join(same.Other, stickers), same.Apart));
                    }

                    continue; // what is said of data makes them no newer
                }

                newest = Math.Max(newest, e.AtUnixNs);
                if (message.Acknowledged is { } seen)
                {
                    acknowledged[seen.Key] = (Time(e.AtUnixNs), seen.Reason);
                }
                else if (message.KindCase == V1.OperatorEvent.KindOneofCase.Claim)
                {
                    Claim claim = ClaimCodec.FromMessage(message.Claim);
                    claims.Add(new ClaimEntry(Time(e.AtUnixNs), claim with { Tag = TagOrigin.Join(claim.Tag, stickers) }) { Origin = stickers });
                }
                else if (message.TagGiven is { HasDiskSequence: true, BootId.Length: 16 } tag)
                {
                    given[(shown(BoardOrigin.Join(tag.Board, message.Origin)), new Guid(tag.BootId.Span, bigEndian: true).ToString(), tag.DiskName, tag.DiskSequence)] = tag.Tag;
                }

                handKept.Add(message, e.AtUnixNs);
            }
            else
            {
                V1.CollectorEvent message = V1.CollectorEvent.Parser.ParseFrom(e.Payload);
                if (collectors.IsTakenBack(message.Origin) || losses.Add(message))
                {
                    continue; // noticed when somebody looked: the data are no newer for it
                }

                newest = Math.Max(newest, e.AtUnixNs);
                if (message.Gap is { } gap)
                {
                    gaps += (long)(gap.LastSequence - gap.FirstSequence + 1);
                    findings.Add(Lost(
                        shown(BoardOrigin.Join(gap.Board, message.Origin)), Convert.ToHexStringLower(gap.Epoch.Span), (long)gap.FirstSequence, (long)gap.LastSequence, gap.Reason));
                }
                else if (message is { Origin.Length: 0, DoorWasFull: { } full })
                {
                    findings.Add(DoorFull(full));
                }
                else if (message.JournalDoubt is { } doubt && doubts.Add(doubt)) // the board says the same at each greeting
                {
                    findings.Add(Doubt(doubt));
                }
            }
        }

        findings.AddRange(losses.Findings());
        RunRecord[] all = [.. runs.Values.Select(r => r.Build()).OfType<RunRecord>().Select(r => Tagged(r, given)).Select(r => Named(r, n => TagOrigin.Join(n, collectors.StickersOf(r.Origin))))
            .OrderBy(r => r.Key.Epoch, StringComparer.Ordinal).ThenBy(r => r.Key.Sequence)];
        var cards = CardNames.Of(all, claims, said);
        return new MasterData
        {
            AsOf = asOf ?? Time(newest),
            Runs = Array.ConvertAll(all, r => Named(r, n => cards[n])),
            OtherStickers = cards.Joined,

            // What another collector was told comes later in the log and may be older.
            Claims =
            [
                .. claims.OrderBy(c => c.At).Select(c => (Said: c, Card: cards[c.Claim.Tag]))
                    .Select(c => c.Said with { Claim = c.Said.Claim with { Tag = c.Card }, Sticker = c.Said.Claim.Tag == c.Card ? "" : c.Said.Claim.Tag }),
            ],
            HandKept =
            [
                .. handKept.Results().Select(h => (Figure: h, From: collectors.StickersOf(h.Origin))).Select(h => h.Figure with
                {
                    Tag = cards[TagOrigin.Join(h.Figure.Tag, h.From)],
                    Provenance = h.Figure.Provenance + (h.From.Length > 0 ? $" (at collector {h.From})" : ""),
                }),
            ],
            Boards = [.. boards.Values],
            Integrity = new IntegrityCounts(received, gaps, conflicts.Length)
            {
                EntriesLost = losses.Lost,
                EntriesOnlyStored = losses.OnlyStored,
                LossesAreAcknowledged = losses.Findings().All(f => acknowledged.ContainsKey(FindingKey.Of(f))),
            },
            IntakeFindings = [.. findings.Select(f => acknowledged.TryGetValue(FindingKey.Of(f), out (DateTimeOffset At, string Reason) seen) ? Seen(f, seen.At, seen.Reason) : f)],
        };
    }

    /// <summary>
    /// A run without a tag takes the one a person gave later to the medium it was made on: same board, same boot, same disk, and the kernel
    /// counted no other medium in between.
    /// </summary>
    private static RunRecord Tagged(RunRecord run, Dictionary<(string, string, string?, long?), string> given) =>
        run.Opened is { Tag: null, DiskSequence: not null } opened
        && given.TryGetValue((run.Board, opened.BootId, opened.DiskName, opened.DiskSequence), out string? tag)
            ? run with { Opened = opened with { Tag = tag } }
            : run;

    private static RunRecord Named(RunRecord run, Func<string, string> nameOf) =>
        run.Opened.Tag is { } tag && nameOf(tag) is var name && name != tag ? run with { Opened = run.Opened with { Tag = name } } : run;

    internal static DateTimeOffset Time(long unixNs) => DateTimeOffset.UnixEpoch.AddTicks(unixNs / 100);

    private static Observation? Decode(StoredRecord record, List<Finding> findings)
    {
        try
        {
            return ObservationCodec.Decode(record.Payload);
        }
        catch (WireFormatException e)
        {
            findings.Add(new Finding
            {
                Id = "unreadable-record",
                Severity = FindingSeverity.Doubt,
                Text = $"A record of board {record.Board} cannot be read and is left out.",
                Values = [new("record", record.Key.ToString()), new("problem", e.Message)],
                Source = "delivery contract of this project",
                Settles = "Update the collector, then run `rebuild`.",
            });
            return null;
        }
    }

    private static Finding Conflict(StoredRecord record) => new()
    {
        Id = "record-conflict",
        Severity = FindingSeverity.Doubt,
        Text = $"Board {record.Board} sent two different contents under one record key; the first counts, both are kept.",
        Values = [new("record", record.Key.ToString()), new("SHA-256 of the later content", Convert.ToHexStringLower(record.Hash))],
        Source = "delivery contract of this project",
        Settles = "Look for a copied or restored board; open a new journal on it.",
    };

    private static Finding Lost(string board, string epoch, long first, long last, string reason) => new()
    {
        Id = "records-lost",
        Severity = FindingSeverity.Doubt,
        Text = string.Create(CultureInfo.InvariantCulture, $"Board {board} lost {last - first + 1} records: {reason}"),
        Values =
        [
            new("journal epoch", epoch),
            new("first sequence", first.ToString(CultureInfo.InvariantCulture)),
            new("last sequence", last.ToString(CultureInfo.InvariantCulture)),
        ],
        Source = "delivery contract of this project",
        Settles = "Run the plans of that time again.",
    };

    private static Finding DoorFull(V1.DoorWasFull full) => new()
    {
        Id = "door-full",
        Severity = FindingSeverity.Note,
        Text = string.Create(
            CultureInfo.InvariantCulture,
            $"The door was full since {Time(full.SinceUnixNs):yyyy-MM-dd HH:mm} until {Time(full.UntilUnixNs):yyyy-MM-dd HH:mm} UTC: {full.TurnedAway} connections without a board's certificate were turned away. Boards that joined were let in."),
        Values = [new("most from", full.MostFrom)],
        Source = "delivery contract of this project",
        Settles = "Keep strangers from the port, with a firewall for example.",
    };

    /// <summary>What a person has seen and said something about needs nobody any more; it stays in every report.</summary>
    private static Finding Seen(Finding finding, DateTimeOffset at, string reason) => finding with
    {
        Severity = FindingSeverity.Note,
        Text = string.Create(CultureInfo.InvariantCulture, $"{finding.Text} Acknowledged on {at.UtcDateTime:yyyy-MM-dd}: {reason}"),
    };

    private static Finding Doubt(V1.JournalDoubt doubt) => new()
    {
        Id = doubt.Kind switch
        {
            V1.JournalDoubt.Types.Kind.Clone => "board-cloned",
            V1.JournalDoubt.Types.Kind.RolledBack => "journal-rolled-back",
            V1.JournalDoubt.Types.Kind.Moved => "journal-moved",
            _ => "journal-doubt",
        },
        Severity = FindingSeverity.Doubt,
        Text = doubt.Text,
        Values = [new("board", doubt.Board), new("journal epoch", Convert.ToHexStringLower(doubt.Epoch.Span))],
        Source = "delivery contract of this project",
        Settles = "Give each board a data folder of its own.",
    };

    private sealed class RunBuilder(LeanTrials lean, string origin)
    {
        private readonly List<TrialRecord> _trials = [];
        private readonly SortedDictionary<int, ProofRecord> _proofs = [];
        private StoredRecord? _openedBy;
        private RunOpened? _opened;
        private CardIdentified? _card;
        private RunClosed? _closed;
        private long _firstReceived = long.MaxValue;

        internal void Add(StoredRecord record, RunObservation observation)
        {
            _firstReceived = Math.Min(_firstReceived, record.ReceivedUnixNs);
            switch (observation)
            {
                case RunOpened opened:
                    _opened = lean.Keep(opened);
                    _openedBy = record with { Payload = [], Hash = [] };
                    break;
                case CardIdentified card:
                    _card ??= lean.Keep(card);
                    break;
                case TrialMeasured trial:
                    _trials.Add(new TrialRecord(record.Key, lean.Keep(trial)) { JournaledUnixNs = record.WallUnixNs });
                    break;
                case ProofMeasured proof:
                    if (!_proofs.TryGetValue(proof.Index, out ProofRecord? known) || proof.Part >= known.Proof.Part)
                    {
                        _proofs[proof.Index] = new ProofRecord(record.Key, proof);
                    }

                    break;
                case RunClosed closed:
                    _closed = closed;
                    break;
                default:
                    break;
            }
        }

        /// <summary>The run, or null when the record that opened it is missing (which is a gap, reported as such).</summary>
        internal RunRecord? Build() => _opened is null || _openedBy is null ? null : new RunRecord
        {
            Key = _openedBy.Key,
            Board = _openedBy.Board,
            Origin = origin,
            Opened = _opened,
            Card = _card,
            Trials = [.. TrialParts.Join(
                _trials.OrderBy(t => t.Trial.Index).ThenBy(t => t.Key.Epoch, StringComparer.Ordinal).ThenBy(t => t.Key.Sequence))
                .Select(t => t.Trial.Part == 0 ? t : t with { Trial = lean.Joined(t.Trial) })],
            Proofs = [.. _proofs.Values],
            Closed = _closed,
            OpenedAt = Time(_openedBy.WallUnixNs),
            ReceivedAt = Time(_firstReceived),
            ClockOffset = TimeSpan.FromTicks(_openedBy.ClockOffsetNs / 100),
        };
    }
}
