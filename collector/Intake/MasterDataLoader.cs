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
    internal static MasterData Load(IRecordStore store, DateTimeOffset? asOf = null) => Load(store, RecordBook.Of(store), asOf);

    /// <summary>Loads everything but the records, which are read already.</summary>
    /// <param name="store">A store that stands still while it is read.</param>
    /// <param name="records">All its records.</param>
    /// <param name="asOf">As above.</param>
    internal static MasterData Load(IRecordStore store, RecordBook records, DateTimeOffset? asOf = null)
    {
        IReadOnlyList<StoredEvent> events = store.Events();
        IReadOnlyList<StoredRecord> keptConflicts = store.Conflicts();
        var collectors = CollectorsRegarded.Of(events);
        Func<string, string> shown = collectors.NamesOf(records.Boards.Concat(keptConflicts.Select(c => c.Board)));
        RecordsSaid said = records.Read(collectors, shown);
        var findings = new List<Finding>(said.Findings);
        var doubts = new HashSet<V1.JournalDoubt>();
        var losses = new Losses();
        var acknowledged = new Dictionary<string, (DateTimeOffset At, string Reason)>(StringComparer.Ordinal);
        long gaps = said.Gaps, newest = said.NewestUnixNs;
        StoredRecord[] conflicts = [.. keptConflicts.Where(c => !collectors.IsTakenBack(BoardOrigin.Split(c.Board).Origin))];
        findings.AddRange(conflicts.Select(c => IntakeFindings.Conflict(c with { Board = shown(c.Board) })));
        var claims = new List<ClaimEntry>();
        var handKept = new HandKeptBook();
        var given = new Dictionary<(string, string, string?, long?), string>();
        var sameCards = new List<(string One, string Other, bool Apart)>();
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
                        sameCards.Add((TagOrigin.Join(same.Tag, stickers), TagOrigin.Join(same.Other, stickers), same.Apart));
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
                    findings.Add(IntakeFindings.Lost(
                        shown(BoardOrigin.Join(gap.Board, message.Origin)), Convert.ToHexStringLower(gap.Epoch.Span), (long)gap.FirstSequence, (long)gap.LastSequence, gap.Reason));
                }
                else if (message is { Origin.Length: 0, DoorWasFull: { } full })
                {
                    findings.Add(IntakeFindings.DoorFull(full));
                }
                else if (message.JournalDoubt is { } doubt && doubts.Add(doubt)) // the board says the same at each greeting
                {
                    findings.Add(IntakeFindings.Doubt(doubt));
                }
            }
        }

        findings.AddRange(losses.Findings());
        RunRecord[] all = [.. said.Runs.Select(r => Tagged(r, given)).Select(r => Named(r, n => TagOrigin.Join(n, collectors.StickersOf(r.Origin))))];
        var cards = CardNames.Of(all, claims, sameCards);
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
            Boards = said.Boards,
            Integrity = new IntegrityCounts(said.Received, gaps, conflicts.Length)
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

    /// <summary>What a person has seen and said something about needs nobody any more; it stays in every report.</summary>
    private static Finding Seen(Finding finding, DateTimeOffset at, string reason) => finding with
    {
        Severity = FindingSeverity.Note,
        Text = string.Create(CultureInfo.InvariantCulture, $"{finding.Text} Acknowledged on {at.UtcDateTime:yyyy-MM-dd}: {reason}"),
    };
}
