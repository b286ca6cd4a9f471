using static System.FormattableString;

namespace Cardassay.Collector.Boards;

/// <summary>
/// What a standing order makes of the cards in a board's slots, one step after the other: looked at without writing, named and consented to
/// by a person, measured until nothing more is learned. Pure: the steps follow from what was scheduled and what came of it.
/// </summary>
internal static class CardLadder
{
    /// <summary>The cards of a board that a standing order is for, by slot.</summary>
    /// <param name="board">The board as last heard of.</param>
    /// <param name="orders">Its standing orders; the one of the slot goes before the one of the whole board.</param>
    /// <param name="history">Every entry that was ever set.</param>
    /// <param name="cards">Who recognises cards.</param>
    internal static IReadOnlyList<CardOnLadder> Of(
        BoardState board, IReadOnlyList<ScheduledEntry> orders, IReadOnlyList<ScheduledEntry> history, CardDirectory cards)
    {
        if (orders.Count == 0 || board.Presence is not { } presence)
        {
            return [];
        }

        ScheduledEntry[] counting =
        [
            .. history.Where(e => e.Schedule.Board == board.Name && !e.Withdrawn && !e.IsVoid && !e.Schedule.AnyCard),
        ];
        var list = new List<CardOnLadder>();
        foreach (V1.Slot slot in presence.Slots.Where(Media.IsCard))
        {
            string target = "/dev/" + slot.DiskName;
            if (orders.Where(o => o.Schedule.Target.Length == 0 || o.Schedule.Target == target)
                .MaxBy(o => o.Schedule.Target.Length) is not { } order)
            {
                continue;
            }

            RecognisedCard card = cards.Recognise(board.Name, presence, slot);
            bool IsOfCard(ScheduledEntry e) => e.Schedule.Medium is not { } medium || Media.IsStill(medium, presence, slot, card);
            list.Add(new CardOnLadder(
                slot,
                card,
                order.Schedule,
                counting.LastOrDefault(
                    e => e.Schedule is { StandingId.Length: > 0, HasEraseIdentity: false, Medium: not null } && e.Schedule.Target == target
                        && IsOfCard(e)),
                counting.LastOrDefault(e => e.Schedule.HasEraseIdentity && e.Schedule.EraseIdentity == slot.Identity && IsOfCard(e)
                    && (e.Schedule.Target == target || (e.Schedule.Target.Length == 0 && e.Schedule.Tag == card.Tag))
                    && (!e.Schedule.HasTag || card.Tag is null || e.Schedule.Tag == card.Tag) && !IsSpent(e))));
        }

        return list;
    }

    /// <summary>A consent whose time was over before anything came of it consents to nothing any more.</summary>
    private static bool IsSpent(ScheduledEntry entry) => entry is { Done: 0, Closed.Event.Reason: V1.ScheduleClosed.Types.Reason.TimeOver };

    /// <summary>The entry by which a card is looked at.</summary>
    internal static V1.ScheduleEntry Look(CardOnLadder card, BoardState board)
    {
        var entry = new V1.ScheduleEntry
        {
            Board = board.Name,
            Target = "/dev/" + card.Slot.DiskName,
            PlanName = card.Order.LookPlanName,
            Repeat = 1,
            KeepOthers = true,
            ScheduleId = Guid.NewGuid().ToString("N")[..12],
            StandingId = card.Order.ScheduleId,
            Medium = Media.Of(board.Name, board.Presence!, card.Slot),
        };
        if (card.Order.HasLookPlanText)
        {
            entry.PlanText = card.Order.LookPlanText;
        }

        return entry;
    }

    /// <summary>How far a card is, for a person.</summary>
    /// <param name="card">The card.</param>
    /// <param name="board">Its board as last heard of.</param>
    /// <param name="waitsFor">Why the step that is due cannot begin, one sentence; null when it can.</param>
    /// <param name="now">The time.</param>
    internal static V1.CardStep Step(CardOnLadder card, BoardState board, string? waitsFor, DateTimeOffset now)
    {
        V1.Progress? progress = board.Presence.ProgressOf(card.Due?.Schedule.ScheduleId);
        var step = new V1.CardStep
        {
            Board = board.Name,
            DiskName = card.Slot.DiskName,
            Card = card.Card.Tag ?? "",
            Identity = card.Slot.Identity,
            Running = progress is not null,
        };
        string receive = $"`cards receive`{(card.Card.Candidates.Count > 0 ? $" ({Clause(card.Card.How)})" : "")}";
        string turn = progress is not null ? "" : waitsFor is null ? ", waits for its turn" : $": {Clause(waitsFor)}";
        (step.State, step.Text) = card switch
        {
            { Measuring: { WhyGivenUp: { } why } } => (V1.CardStep.Types.State.Skipped, why),
            { Measuring: { IsOver: true } over } => (V1.CardStep.Types.State.Done, $"{Made(over)}; take it out"),
            { Measuring: { } rests } when progress is null && EntryLook.IsMadeThisNight(rests, now) => (V1.CardStep.Types.State.Resting,
                Invariant($"{Runs(rests.Done)} of {rests.Schedule.PlanName} made, this night's among them; take it out for another card, ")
                    + "or leave it in for the next night"),
            { Measuring: { } goesOn } =>
                (V1.CardStep.Types.State.Measuring, Invariant($"{goesOn.Schedule.PlanName}, {Runs(goesOn.Done)} made{turn}")),
            { Look: null or { IsOver: false } } => (V1.CardStep.Types.State.Looking,
                $"{card.Order.LookPlanName}, "
                    + $"nothing is written{turn}{(card.Card.Tag is null ? $"; its sticker can be given meanwhile by {receive}" : "")}"),
            { Card.Tag: null } =>
                (V1.CardStep.Types.State.NoSticker, $"{Looked(card.Look)}; say which card it is, and whether it may be overwritten, by "
                    + $"{receive}"),
            _ => (V1.CardStep.Types.State.NoConsent, $"{Looked(card.Look)}; say whether it may be overwritten by {receive}"),
        };
        step.Text = Clause(step.Text) + ".";
        if (progress is { SecondsLeft: > 0 })
        {
            step.SecondsLeft = progress.SecondsLeft;
        }

        return step;
    }

    /// <summary>Of those that do not go on until a person has done something, what that is.</summary>
    internal static IEnumerable<string> Asks(IEnumerable<V1.CardStep> steps) =>
        steps.Where(
            s => s.State is V1.CardStep.Types.State.NoSticker or V1.CardStep.Types.State.NoConsent or V1.CardStep.Types.State.Skipped)
            .Select(s => $"{s.Board}/{s.DiskName}, {CardWord(s.Card)}: {s.Text}");

    /// <summary>The sticker, or that there is none.</summary>
    internal static string CardWord(string? sticker) => string.IsNullOrEmpty(sticker) ? "no sticker" : sticker;

    /// <summary>Number of the step of three a card is at.</summary>
    internal static int NumberOf(V1.CardStep.Types.State state) => state switch
    {
        V1.CardStep.Types.State.Looking => 1,
        V1.CardStep.Types.State.NoSticker or V1.CardStep.Types.State.NoConsent => 2,
        _ => 3,
    };

    private static string Looked(ScheduledEntry look) => look.Done > 0
        ? "looked at"
        : $"could not be looked at ({Clause(look.WhyGivenUp ?? look.Attempts.LastOrDefault()?.Text ?? "it was ended")})";

    /// <summary>A sentence as a part of another one.</summary>
    private static string Clause(string sentence) => sentence.TrimEnd('.');

    private static string Made(ScheduledEntry over) => over.Closed is { Event.Reason: V1.ScheduleClosed.Types.Reason.Settled }
        ? $"settled after {Runs(over.Done)} of {over.Schedule.PlanName}"
        : $"{Runs(over.Done)} of {over.Schedule.PlanName} made";

    private static string Runs(uint count) => Invariant($"{count} {(count == 1 ? "run" : "runs")}");
}

/// <summary>A card in a slot that a standing order is for.</summary>
/// <param name="Slot">The slot as its board shows it.</param>
/// <param name="Card">Which card it is, as far as can be told.</param>
/// <param name="Order">The order.</param>
/// <param name="Look">By which it was or is looked at; null when nothing was set yet.</param>
/// <param name="Measuring">The last a person consented to; null without a consent that holds for it.</param>
internal sealed record CardOnLadder(
    V1.Slot Slot, RecognisedCard Card, V1.ScheduleEntry Order, ScheduledEntry? Look, ScheduledEntry? Measuring)
{
    /// <summary>What is to be done with it now; null when that is a person's turn, or nothing is.</summary>
    internal ScheduledEntry? Due => (Measuring ?? Look) is { IsOver: false } due ? due : null;

    /// <summary>True when it is to be looked at and nothing says so yet.</summary>
    internal bool NeedsLook => Measuring is null && Look is null;
}
