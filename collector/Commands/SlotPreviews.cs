using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Explaining;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Report;
using Cardassay.Identity;
using Cardassay.Trials;
using Cardassay.Wire;

namespace Cardassay.Collector.Commands;

/// <summary>
/// What a report would say of the cards that are in slots now: of a card nobody has measured yet what its registers say
/// against its claim, its references and the other cards. An analysis makes it, so that what asks often is shown what was
/// found last. Safe to call from any thread.
/// </summary>
internal sealed class SlotPreviews(BoardRegistry boards, CardDirectory directory, ReportDesk reports, TimeProvider time)
{
    private readonly Lock _looking = new();

    /// <summary>What was found last, and of which data. It is shown until the next is found.</summary>
    private volatile Found _last = new(null, new Dictionary<V1.Medium, Preview>());

    /// <summary>Looks at every card that is in a slot now, unless neither they nor the data changed.</summary>
    internal void Look(MasterData data)
    {
        DateTimeOffset now = time.GetUtcNow();
        (BoardState Board, V1.Slot Slot, V1.Medium Medium, RecognisedCard Card)[] cards =
        [
            .. from board in boards.All()
               where board.Presence is not null && !board.IsAway(now)
               let presence = board.Presence!
               from slot in presence.Slots
               where Media.IsCard(slot)
               select (board, slot, Media.Of(board.Name, presence, slot), directory.Recognise(board.Name, presence, slot)),
        ];
        lock (_looking)
        {
            bool IsAsBefore((BoardState, V1.Slot, V1.Medium Medium, RecognisedCard Card) c) =>
                _last.Cards.TryGetValue(c.Medium, out Preview? known) && (known.Tag, known.How) == (c.Card.Tag, c.Card.How);
            if (ReferenceEquals(_last.Data, data) && _last.Cards.Count == cards.Length && cards.All(IsAsBefore))
            {
                return;
            }

            var previews = new Dictionary<V1.Medium, Preview>();
            if (cards.Length > 0)
            {
                RunRecord[] looks = [.. cards.Select((c, i) => Sighting(c.Slot, c.Board.Name, c.Card.Tag, now, i))];
                MasterData with = data with { AsOf = now, Runs = [.. data.Runs, .. looks] };
                AnalysisResult analysis = reports.AnalyseAside(with);
                IReadOnlyDictionary<string, CardStanding> standings = CardStandings.Of(with, analysis);
                foreach (((BoardState _, V1.Slot slot, V1.Medium medium, RecognisedCard recognised), RunRecord look) in cards.Zip(looks))
                {
                    CardResult card = analysis.Cards.First(c => c.Runs.Any(r => r.Key == look.Key));
                    previews[medium] = new Preview(recognised.Tag, recognised.How,
                        [.. Lines(card, recognised, standings[card.Name], slot)]);
                }
            }

            _last = new Found(data, previews);
        }
    }

    /// <summary>What was found last of a card in a slot; nothing when it was not looked at yet.</summary>
    /// <param name="medium">What is in the slot now.</param>
    /// <param name="tag">Its sticker; "" where it has none yet.</param>
    internal IReadOnlyList<string> Of(V1.Medium medium, string tag) =>
        _last.Cards.TryGetValue(medium, out Preview? known) && (known.Tag ?? "") == tag ? known.Lines : [];

    /// <summary>Says of every step what was found last of its card.</summary>
    internal void AddTo(IEnumerable<V1.CardStep> steps)
    {
        foreach (V1.CardStep step in steps)
        {
            V1.Presence? presence = boards.Find(step.Board)?.Presence;
            if (presence?.Slots.FirstOrDefault(s => s.DiskName == step.DiskName) is { } slot)
            {
                step.Preview.AddRange(Of(Media.Of(step.Board, presence, slot), step.Card));
            }
        }
    }

    /// <summary>A card in a slot as a run in which nothing was measured, newer than all there are.</summary>
    internal static RunRecord Sighting(V1.Slot slot, string board, string? tag, DateTimeOffset now, int number = 0)
    {
        var id = new RunId(Guid.NewGuid());
        return new RunRecord
        {
            Key = new RecordKey(new string('f', 32), long.MaxValue - number),
            Board = board,
            Opened = new RunOpened
            {
                RunId = id, Tag = tag, DiskName = slot.DiskName, TargetPath = "/dev/" + slot.DiskName, PlanName = "",
                PlanVersion = "", PlanText = "",
                HostName = board, KernelRelease = "", BootId = "", AgentVersion = "",
            },
            Card = new CardIdentified
            {
                RunId = id, Identity = slot.Identity, IdentityFromRegisters = slot.IdentityFromRegisters, DiskName = slot.DiskName,
                DiskBytes = slot.DiskBytes,
                Attachment = (Attachment)slot.Attachment, Files = RegisterFiles.FromMessages(slot.Files),
            },
            OpenedAt = now,
            ReceivedAt = now,
        };
    }

    /// <summary>What speaks against the card, the weightiest first.</summary>
    internal static IEnumerable<string> Against(CardStanding standing) =>
        standing.Findings.Where(f => f.Severity > FindingSeverity.Note)
            .Select(f =>
                $"{f.Severity.ToString().ToLowerInvariant()}: {f.Text}{(f.Settles is { } settles ? $" What settles it: {settles}" : "")}");

    private static IEnumerable<string> Lines(CardResult card, RecognisedCard recognised, CardStanding standing, V1.Slot slot)
    {
        string[] against = [.. Against(standing)];
        bool isClaimed = card.Claim is { } claim && claim != new Claim { Tag = claim.Tag };
        if (recognised.Tag is null)
        {
            yield return recognised.How;
        }
        else if (isClaimed)
        {
            yield return $"Claimed to be: {Explain.ClaimText(card.Claim!)}. Verdict so far: {standing.Verdict.Words}.";
        }
        else
        {
            yield return $"Nothing is claimed of {recognised.Tag}, so that there is no label to judge.";
        }

        foreach (string line in against)
        {
            yield return line;
        }

        if (!slot.IdentityFromRegisters && recognised.Tag is not null)
        {
            yield return "This reader hides the registers: what they say is not known.";
        }
        else if (slot.IdentityFromRegisters && isClaimed && against.Length == 0 && standing.Capacity is null)
        {
            yield return NothingAgainst;
        }
    }

    /// <summary>Of a claimed card whose registers are read and whose capacity nobody has proven yet.</summary>
    internal const string NothingAgainst = "Nothing the registers say speaks against that. "
        + "What the card holds is known when it has been overwritten.";

    /// <summary>What was found of the cards in the slots, and of which data.</summary>
    private sealed record Found(MasterData? Data, IReadOnlyDictionary<V1.Medium, Preview> Cards);

    /// <summary>What was found of a card, and what it was recognised as and how.</summary>
    private sealed record Preview(string? Tag, string How, IReadOnlyList<string> Lines);
}
