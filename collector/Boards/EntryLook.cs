using Cardassay.Collector.Analysis.Figures;
using Cardassay.Trials;
using static System.FormattableString;

namespace Cardassay.Collector.Boards;

/// <summary>
/// Looks at an entry together with what its board last said: is the card there, is it the right one, what did the board find.
/// </summary>
internal static class EntryLook
{
    /// <summary>What an entry waits for that its board has not looked at yet.</summary>
    internal const string BeingChecked = "The board is checking it.";

    /// <summary>Boards of this trade throttle from about here (common practice, no source).</summary>
    private const int HotMilliCelsius = 80_000;

    private const double NearlyFull = 0.8;

    /// <param name="entry">The entry.</param>
    /// <param name="board">Its board as last heard of, or null when it never was since the collector started.</param>
    /// <param name="cards">Who recognises cards.</param>
    /// <param name="past">Seconds of earlier runs of the plan.</param>
    /// <param name="now">The time.</param>
    internal static EntryView Of(
        ScheduledEntry entry, BoardState? board, CardDirectory cards, IReadOnlyList<double> past, DateTimeOffset now)
    {
        V1.ScheduleEntry effective = entry.Schedule.Clone();
        if (board?.Presence is not { } presence)
        {
            return new EntryView(entry, effective, $"Board {entry.Schedule.Board} has not reported to this collector yet.", [],
                RunTime.Of(past, 0, 0));
        }

        V1.Preflight? ahead = presence.Preflight.FirstOrDefault(p => p.ScheduleId == entry.Schedule.ScheduleId);
        List<string> notes = [.. Notes(presence, ahead, now)];
        string? waitsFor = (board.IsAway(now) ? Away(board, now) : null)
            ?? FindCard(effective, board, presence, cards, notes)
            ?? Checked(presence, ahead)
            ?? NextNight(entry, now);
        if (effective.HasEraseIdentity)
        {
            notes.Add($"Overwrites everything on {effective.EraseIdentity}.");
        }

        double proof = ahead?.ProofSecondsAtMost ?? 0;
        return new EntryView(
            entry, effective, waitsFor, notes, RunTime.Of(past, ahead?.SecondsAtLeast ?? 0, ahead?.SecondsAtMost ?? 0, proof),
            ahead is { ProofOnce: true } ? proof : 0)
        {
            Ahead = ahead,
        };
    }

    /// <summary>
    /// A further run of the same night on the same board does not say how well the card is known: a run that is to
    /// settle it waits for the next one.
    /// </summary>
    internal static bool IsMadeThisNight(ScheduledEntry entry, DateTimeOffset now) =>
        entry.Schedule.UntilSettled && entry.Attempts.LastOrDefault(a => a.Ok) is { } last
            && Night.Of(last.At.AddSeconds(-last.Seconds)) == Night.Of(now);

    private static string? NextNight(ScheduledEntry entry, DateTimeOffset now) =>
        IsMadeThisNight(entry, now) ? "This night's run on this board is made; one that can narrow its rank further is another night's, "
            + "or one on another board." : null;

    private static string Away(BoardState board, DateTimeOffset now) =>
        Invariant($"Board {board.Name} was last heard of {(now - board.LastSeen).TotalMinutes:0} min ago.");

    private static string? FindCard(
        V1.ScheduleEntry effective, BoardState board, V1.Presence presence, CardDirectory cards, List<string> notes)
    {
        (V1.Slot Slot, RecognisedCard Card)[] slots = [.. presence.Slots.Select(s => (s, cards.Recognise(board.Name, presence, s)))];
        if (effective.Target.Length == 0)
        {
            (V1.Slot Slot, RecognisedCard Card)[] found = [.. slots.Where(s => s.Card.Tag == effective.Tag)];
            if (found.Length == 0 && effective.HasEraseIdentity)
            {
                // A card that nobody has told the sticker of: the consent names it by its registers.
                found = [.. slots.Where(
                    s => s is { Card.Tag: null, Slot.IdentityFromRegisters: true } && s.Slot.Identity == effective.EraseIdentity)];
            }

            if (found.Length != 1)
            {
                return found.Length > 1 || slots.Any(s => s.Card.Candidates.Contains(effective.Tag))
                    ? CannotBeTold(board.Name, effective.Tag)
                    : $"{effective.Tag} is in no slot of {board.Name}.";
            }

            effective.Target = "/dev/" + found[0].Slot.DiskName;
        }

        if (slots.FirstOrDefault(s => "/dev/" + s.Slot.DiskName == effective.Target) is not { Slot: { } slot, Card: { } card })
        {
            return null; // a folder, or an empty slot: the board says which
        }

        if (effective.Medium is { } medium && !Media.IsStill(medium, presence, slot, card))
        {
            return OtherCard(medium, board.Name, slot);
        }

        if (!effective.HasTag)
        {
            if (card.Tag is null)
            {
                notes.Add($"The card in {slot.DiskName} has no tag yet; "
                    + $"say which it is with `cards --in {board.Name}/{slot.DiskName} --tag TAG`.");
            }
            else
            {
                effective.Tag = card.Tag;
            }
        }
        else if (card is { Certain: true, Tag: { } other } && other != effective.Tag)
        {
            return $"{slot.DiskName} of {board.Name} holds {other}; put {effective.Tag} in.";
        }
        else if (card.Candidates.Contains(effective.Tag))
        {
            return CannotBeTold(board.Name, effective.Tag);
        }
        else if (!card.Certain && slot.IdentityFromRegisters && cards.IdentityOf(effective.Tag) is { } known && known != slot.Identity)
        {
            return $"{slot.DiskName} of {board.Name} holds {slot.Identity}, but {effective.Tag} is {known}; put {effective.Tag} in.";
        }

        if (!effective.HasExpectedIdentity && slot.IdentityFromRegisters)
        {
            effective.ExpectedIdentity = slot.Identity;
        }

        effective.Medium = Media.Of(board.Name, presence, slot); // what is put in its place before the run begins is not what was looked at
        return null;
    }

    private static string CannotBeTold(string board, string tag) =>
        $"It cannot be told which card of {board} is {tag}; say so with `cards --in {board}/DISK --tag {tag}`.";

    /// <summary>Why what was said of a medium does not hold for the one in its slot.</summary>
    internal static string OtherCard(V1.Medium medium, string board, V1.Slot slot) => slot.Identity != medium.Identity
        ? $"Another card is in {slot.DiskName} of {board} now, {slot.Identity}, and what was said was of {medium.Identity}."
        : $"It cannot be told whether the card in {slot.DiskName} of {board} is the one that was in it: it was taken out, "
            + "or the board was started again, and nothing shows that no other card with the same identity was put in.";

    private static string? Checked(V1.Presence presence, V1.Preflight? ahead)
    {
        if (!presence.ChecksAhead)
        {
            return null;
        }

        return ahead switch
        {
            null when presence.Progress is not null => null, // it is checked when the present run is over
            null => BeingChecked,
            { Obstacles.Count: 0 } => null,
            _ => string.Join(' ', ahead.Obstacles.Select(o => o.Text)),
        };
    }

    private static IEnumerable<string> Notes(V1.Presence presence, V1.Preflight? ahead, DateTimeOffset now)
    {
        TimeSpan offset = now - UnixTime.At(presence.WallUnixNs);
        if (presence.WallUnixNs != 0 && offset.Duration() > Analysis.Figures.NightClock.Believed)
        {
            yield return Invariant($"The clock of the board is off by {offset.Duration().TotalHours:0} h; ")
                + "the night in which the records arrive counts.";
        }

        if (presence.JournalFullness >= NearlyFull)
        {
            yield return Invariant($"The board's journal is {presence.JournalFullness * 100:0} % full; let it deliver.");
        }

        if (ahead is { HasUnderVoltage: true, UnderVoltage: true })
        {
            yield return "The board's supply voltage is too low; use a stronger supply or a shorter cable.";
        }

        if (ahead is { HasThrottled: true, Throttled: true })
        {
            yield return "The board holds its clock down now; let it cool or feed it better.";
        }

        if (ahead is { HasHottestMilliCelsius: true, HottestMilliCelsius: >= HotMilliCelsius })
        {
            yield return Invariant($"The board is at {ahead.HottestMilliCelsius / 1000.0:0} degrees Celsius; let it cool.");
        }
    }
}
