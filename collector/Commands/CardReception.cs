using System.Globalization;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Cards;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Building;
using Cardassay.Identity;
using Cardassay.Trials;
using Cardassay.Wire;

namespace Cardassay.Collector.Commands;

/// <summary>
/// Takes cards in: which wait in the slots, what their registers say, and what a person says of them. What is said is bound to the medium
/// that was looked at: another one in the same slot is refused.
/// </summary>
internal sealed class CardReception(
    BoardRegistry boards, CardDirectory directory, ScheduleBook schedule, EntryDesk entries, ReportDesk reports, SlotPreviews previews,
    Func<IReadOnlyList<V1.IntakeEntry>, CancellationToken, Task> record, TimeProvider time)
{
    /// <summary>Products proposed, the number of keys there are for them.</summary>
    private const int MostProducts = 9;

    /// <summary>What a consent begins where neither the person nor a standing order names a plan.</summary>
    internal const string UsualPlan = "system-disk";

    /// <summary>
    /// The cards nobody has named yet, those that wait for a consent under a standing order, and what can be proposed for them.
    /// </summary>
    internal V1.WaitingList Waiting(MasterData data)
    {
        var list = new V1.WaitingList();
        list.Tags.AddRange(Tags(data).Order(StringComparer.Ordinal));
        list.NextTag = StickerSeries.Next(list.Tags);
        list.Products.AddRange(Products(data).Select(ClaimCodec.ToMessage));
        previews.Look(data);
        foreach (BoardState board in boards.All().Where(b => b.Presence is not null && !b.IsAway(time.GetUtcNow())))
        {
            IReadOnlyList<CardOnLadder> ladder = Ladder(board);
            foreach (V1.Slot slot in board.Presence!.Slots.Where(Media.IsCard))
            {
                RecognisedCard card = directory.Recognise(board.Name, board.Presence, slot);
                CardOnLadder? under = ladder.FirstOrDefault(c => c.Slot == slot);
                if (card.Tag is null || under is { Measuring: null })
                {
                    var waiting = new V1.WaitingCard
                    {
                        Medium = Media.Of(board.Name, board.Presence!, slot), IdentityFromRegisters = slot.IdentityFromRegisters,
                        DiskBytes = slot.DiskBytes, How = card.How,
                        Tag = card.Tag ?? "", Order = under is null ? "" : ScheduleOptions.UntilSettled(under.Order.PlanName),
                    };
                    waiting.Facts.AddRange(RegisterLines.Of(CardFacts.Of(Registers(slot))).Select(line => $"{line.Key}: {line.Value}"));
                    waiting.Preview.AddRange(previews.Of(waiting.Medium, waiting.Tag));
                    list.Cards.Add(waiting);
                }
            }
        }

        return list;
    }

    /// <summary>Judges what is said of a card and, unless it is a dry run, records it.</summary>
    /// <param name="data">Everything known before.</param>
    /// <param name="request">What is said.</param>
    /// <param name="delivered">Names of the boards something was ever received from.</param>
    /// <param name="cancellationToken">Ends the waiting for the board.</param>
    /// <exception cref="CommandException">It cannot be, and nothing was recorded.</exception>
    internal async Task<V1.CardReceived> ReceiveAsync(
        MasterData data, V1.ReceiveCardRequest request, IEnumerable<string> delivered, CancellationToken cancellationToken)
    {
        Claim said = ClaimCodec.FromMessage(request.Claim ?? new V1.Claim());
        if (ClaimCheck.Problems(said) is { Count: > 0 } problems)
        {
            throw new CommandException(string.Join(Environment.NewLine, problems), 2);
        }

        (BoardState board, V1.Slot slot) = Find(request.Medium ?? new V1.Medium());
        if (!Media.IsCard(slot))
        {
            throw new CommandException($"{slot.DiskName} of {board.Name} is "
                + $"{(slot.HoldsSystem ? "what the board runs from" : "soldered memory or a disk")}, no card to be taken in; "
                + "name a folder on it with `schedule`.", 2);
        }

        RecognisedCard recognised = directory.Recognise(board.Name, board.Presence!, slot);
        if (recognised.Tag is { } known && known != said.Tag)
        {
            throw new CommandException($"The card in {slot.DiskName} of {board.Name} is {known} already: {recognised.How}", 2);
        }

        if (IdentityUnder(data, said.Tag) is { } other && slot.IdentityFromRegisters && other != slot.Identity)
        {
            throw new CommandException($"{said.Tag} is on another card, {other}: scan the sticker again, "
                + "or give this card one of its own.", 2);
        }

        var answer = new V1.CardReceived();
        Judge(data, said, slot, board.Name, answer);
        if (IdentityUnder(data, said.Tag) is not null && !slot.IdentityFromRegisters)
        {
            answer.Notes.Add($"Results of {said.Tag} are here already, and this reader hides the registers: "
                + "whether it is the same card is not known. What is measured now counts as its own.");
        }

        if (request.DryRun)
        {
            return answer;
        }

        V1.TagGiven given = Given(said.Tag, board, slot);
        var entriesSaid = new List<V1.IntakeEntry> { new() { OperatorEvent = new V1.OperatorEvent { TagGiven = given } } };
        if (said != new Claim { Tag = said.Tag })
        {
            entriesSaid.Add(new V1.IntakeEntry { OperatorEvent = new V1.OperatorEvent { Claim = ClaimCodec.ToMessage(said) } });
        }

        await record(entriesSaid, cancellationToken);
        directory.Learn(given);
        if (request.Entry is not null)
        {
            await ScheduleAsync(request.Entry, board, slot, given, delivered, answer, cancellationToken);
        }

        return answer;
    }

    /// <summary>
    /// The sticker and claim stay when the night has no room or the card cannot be overwritten: what was said is true all the same.
    /// </summary>
    private async Task ScheduleAsync(
        V1.ScheduleEntry asked, BoardState board, V1.Slot slot, V1.TagGiven given, IEnumerable<string> delivered, V1.CardReceived answer,
        CancellationToken cancellationToken)
    {
        if (!Media.CanBeTold(slot))
        {
            answer.NotScheduled = "The reader hides the registers and the board's kernel does not count media, so that a consent could "
                + $"hold for another card put in later; consent with `schedule {board.Name} {"/dev/" + slot.DiskName} --erase "
                + $"{slot.Identity}` and leave the card in.";
            return;
        }

        V1.ScheduleEntry entry = asked.Clone();
        if (entry.PlanName.Length == 0)
        {
            V1.ScheduleEntry? order = Ladder(board).FirstOrDefault(c => c.Slot == slot)?.Order;
            (entry.PlanName, entry.Repeat, entry.UntilSettled, entry.StandingId) = order is null
                ? (UsualPlan, entry.Repeat, false, "")
                : (order.PlanName, order.Repeat, true, order.ScheduleId);
            if (order is { HasPlanText: true })
            {
                entry.PlanText = order.PlanText;
            }
        }

        entry.Medium = Media.Of(board.Name, board.Presence!, slot);
        (entry.Board, entry.Target, entry.Tag, entry.ExpectedIdentity) = (given.Board, "/dev/" + given.DiskName, given.Tag, given.Identity);
        if (entry.HasEraseIdentity && entry.EraseIdentity != given.Identity)
        {
            answer.NotScheduled = $"The consent names {entry.EraseIdentity}, and the card is {given.Identity}.";
            return;
        }

        ConsideredEntry considered = await entries.ConsiderAsync(entry, later: false, delivered, cancellationToken);
        answer.Notes.AddRange(considered.Notes);
        if (considered.Refusal is { } refusal)
        {
            answer.NotScheduled = refusal;
        }
        else
        {
            answer.Entry = considered.Entry;
        }
    }

    private IReadOnlyList<CardOnLadder> Ladder(BoardState board) =>
        CardLadder.Of(board, schedule.OrdersOf(board.Name), schedule.History, directory);

    /// <exception cref="CommandException">It is not there any more.</exception>
    private (BoardState Board, V1.Slot Slot) Find(V1.Medium medium)
    {
        BoardState board = boards.Find(medium.Board) is { Presence: not null } state && !state.IsAway(time.GetUtcNow())
            ? state
            : throw new CommandException($"Board {Show.Clean(medium.Board)} is not heard of now; see `boards`, "
                + "then look at the card again.", 2);
        V1.Slot slot = board.Presence!.Slots.FirstOrDefault(s => s.DiskName == medium.DiskName)
            ?? throw new CommandException($"The card was taken out of {Show.Clean(medium.DiskName)} of {board.Name}; "
                + "nothing was recorded. Put it in again.", 2);
        return Media.Of(board.Name, board.Presence!, slot).Equals(medium)
            ? (board, slot)
            : throw new CommandException($"Another card is in {slot.DiskName} of {board.Name} now, {slot.Identity}; nothing was recorded. "
                + "Look at it before you say anything of it.", 2);
    }

    /// <summary>What a person says of the sticker on the card that is in a slot now.</summary>
    internal static V1.TagGiven Given(string tag, BoardState board, V1.Slot slot)
    {
        var given = new V1.TagGiven
        {
            Tag = tag,
            Board = board.Name,
            DiskName = slot.DiskName,
            Identity = slot.Identity,
            IdentityFromRegisters = slot.IdentityFromRegisters,
            BootId = board.Presence!.BootId,
        };
        if (slot.HasDiskSequence)
        {
            given.DiskSequence = slot.DiskSequence;
        }

        return given;
    }

    /// <summary>The identity from registers that goes with a sticker; null when none is known.</summary>
    private string? IdentityUnder(MasterData data, string tag) =>
        directory.IdentityOf(tag)
            ?? data.Runs.LastOrDefault(r => r.Opened.Tag == tag && r.Card is { IdentityFromRegisters: true })?.Card!.Identity;

    private static CardRegisters Registers(V1.Slot slot) =>
        CardRegisters.From(RegisterFiles.FromMessages(slot.Files), slot.DiskBytes, (Attachment)slot.Attachment);

    /// <summary>
    /// What a report would say of the card with this claim before anything is measured: twins, references and
    /// the label against the registers.
    /// </summary>
    private void Judge(MasterData data, Claim said, V1.Slot slot, string board, V1.CardReceived answer)
    {
        DateTimeOffset now = time.GetUtcNow();
        RunRecord look = SlotPreviews.Sighting(slot, board, said.Tag, now);
        MasterData with = data with { AsOf = now, Runs = [.. data.Runs, look], Claims = [.. data.Claims, new ClaimEntry(now, said)] };
        AnalysisResult analysis = reports.AnalyseAside(with);
        CardResult card = analysis.Cards.Single(c => c.Tag == said.Tag);
        CardStanding standing = CardStandings.Of(with, analysis)[card.Name];
        answer.Claim = ClaimCodec.ToMessage(card.Claim ?? said);
        answer.Verdict = standing.Verdict.Words;
        answer.Findings.AddRange(SlotPreviews.Against(standing));
    }

    private static IEnumerable<string> Tags(MasterData data) =>
        data.Runs.Select(r => r.Opened.Tag).OfType<string>().Concat(data.Claims.Select(c => c.Claim.Tag))
            .Concat(data.HandKept.Select(h => h.Tag)).Distinct(StringComparer.Ordinal);

    /// <summary>What was claimed of other cards, the newest of each product. Who bought what when is of one card alone.</summary>
    private static IEnumerable<Claim> Products(MasterData data) =>
        data.Claims.GroupBy(c => c.Claim.Tag, StringComparer.Ordinal)
            .Select(g => (At: g.Max(c => c.At), Claim: CardSources.Merge(g.Select(c => c.Claim))))
            .Where(c => c.Claim.Product is not null || c.Claim.LabelGigabytes is not null)
            .OrderByDescending(c => c.At).ThenBy(c => c.Claim.Tag, StringComparer.Ordinal)
            .Select(c => c.Claim with { Tag = "", Purchased = null, PriceDate = null, IsReference = null, Invented = null })
            .DistinctBy(c => (c.Maker, c.Product, c.LabelGigabytes, string.Join(' ', c.Marks ?? [])))
            .Take(MostProducts);
}
