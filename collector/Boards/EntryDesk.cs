using System.Globalization;
using Cardassay.Collector.Storage;
using Cardassay.Identity;
using Cardassay.Plans;

namespace Cardassay.Collector.Boards;

/// <summary>
/// Looks at what a person wants scheduled before anybody says yes: fills in what can only be one thing, and refuses what cannot be, as far
/// as it is known here or on the board. Records nothing.
/// </summary>
internal sealed class EntryDesk(
    BoardRegistry boards, TrustBook trust, ScheduleBook schedule, CardDirectory cards, DutyDesk duties, TimeProvider time)
{
    /// <summary>Considers an entry.</summary>
    /// <param name="asked">The entry as a person said it.</param>
    /// <param name="later">The card is put in later: what is in the slot now says nothing.</param>
    /// <param name="delivered">Names of the boards something was ever received from.</param>
    /// <param name="cancellationToken">Ends the waiting for the board.</param>
    internal async Task<ConsideredEntry> ConsiderAsync(
        V1.ScheduleEntry asked, bool later, IEnumerable<string> delivered, CancellationToken cancellationToken)
    {
        V1.ScheduleEntry entry = asked.Clone();
        entry.ScheduleId = Guid.NewGuid().ToString("N")[..12];
        var notes = new List<string>();
        string? refusal = BoardProblem(entry, [.. delivered], notes);
        if (entry.Repeat == 0)
        {
            return new ConsideredEntry(entry, notes, refusal ?? (schedule.Entries().Any(e => ScheduleBook.Replaces(entry, e.Schedule))
                ? null
                : $"Nothing is scheduled for {Named(entry)} on {entry.Board}, so nothing was withdrawn; `schedule` shows what is."));
        }

        if (entry.AnyCard)
        {
            notes.Add($"A card that is put into {(entry.Target.Length > 0 ? entry.Target : "any slot")} of {entry.Board} is read by "
                + $"{entry.LookPlanName} and nothing is written on it. What is measured after that, by {entry.PlanName}, "
                + "waits for its sticker and its consent: `cards receive`.");
            return new ConsideredEntry(entry, notes, refusal ?? ScheduleCheck.Problem(entry, time.GetUtcNow()) ?? LookProblem(entry));
        }

        refusal ??= SlotProblem(entry, notes)
            ?? ScheduleCheck.Problem(entry, time.GetUtcNow())
            ?? BudgetProblem(entry)
            ?? (later ? ConsentFormProblem(entry) : ConsentProblem(entry));
        if (refusal is not null)
        {
            return new ConsideredEntry(entry, notes, refusal);
        }

        if (later)
        {
            notes.Add("Whether the card is there is looked at when it is due.");
            return new ConsideredEntry(entry, notes, null);
        }

        entry.Medium ??= HiddenMedium(entry);
        EntryView view = await duties.AskAsync(entry, cancellationToken);
        bool isThere = boards.Find(entry.Board) is { Presence: not null } state && !state.IsAway(time.GetUtcNow());
        if (view.WaitsFor is { } why)
        {
            if (isThere && view.WaitsFor != EntryLook.BeingChecked)
            {
                return new ConsideredEntry(entry, notes, $"{why} Mend that, or say --later when the card is put in later.");
            }

            notes.Add($"{why} It could not be checked whether the card is there and can be measured; "
                + "`schedule` says so when the board has looked.");
        }

        notes.AddRange(view.Notes);
        NightFit fit = duties.Fit(view);
        return new ConsideredEntry(entry, notes, fit.Fits == 0 && fit.Dropped > 0
            ? string.Create(CultureInfo.InvariantCulture,
                $"There is no time for it: one run takes up to {view.Time.Bound / 60:0} min, and with what is scheduled before it none is "
                    + $"over by the time to stop with 90 % probability. Give a later --stop-by or a shorter --plan.")
            : null);
    }

    private string? BoardProblem(V1.ScheduleEntry entry, HashSet<string> delivered, List<string> notes)
    {
        IReadOnlyDictionary<string, (string Trust, DateTimeOffset? EndsAt)> standing = trust.Standing(time.GetUtcNow());
        string[] known = [.. boards.All().Select(b => b.Name).Union(delivered).Union(standing.Keys)
            .Where(b => !standing.TryGetValue(b, out (string Trust, DateTimeOffset?) stands) || stands.Trust == "joined")
            .Order(StringComparer.Ordinal)];
        const string invite = "let it in with `cardassay-collector invite NAME`";
        if (entry.Board.Length == 0)
        {
            string[] having = entry.HasTag ? [.. known.Where(b => Slots(b).Any(s => s.Card.Tag == entry.Tag))] : [];
            string[] choice = having.Length == 1 ? having : known;
            if (choice is not [{ } only])
            {
                return known.Length == 0
                    ? $"No board has joined yet: {invite}."
                    : $"Name the board; there are {string.Join(", ", known)}.";
            }

            entry.Board = only;
            notes.Add(having.Length == 1 ? $"{entry.Tag} is in {only}." : $"{only} is the only board.");
            return null;
        }

        if (known.Contains(entry.Board))
        {
            return null;
        }

        string name = BoardNames.Clean(entry.Board);
        if (standing.TryGetValue(entry.Board, out (string Trust, DateTimeOffset?) other) && other.Trust == "invited")
        {
            notes.Add($"{name} was invited and has not joined yet: run the line of its invitation on the board, "
                + "else nothing comes of this.");
            return null;
        }

        return other.Trust is not null
            ? $"{name} was shut out; {invite} again."
            : "There is no board "
                + $"\"{name}\"{(known.Length == 0 ? ":" : $"; there are {string.Join(", ", known)}: name one of them, or")} {invite}.";
    }

    /// <summary>Without target and card, the only slot that holds a card is meant.</summary>
    private string? SlotProblem(V1.ScheduleEntry entry, List<string> notes)
    {
        if (entry.Target.Length > 0 || entry.HasTag)
        {
            return null;
        }

        (V1.Slot Slot, RecognisedCard Card)[] slots = Slots(entry.Board);
        if (slots is not [(var slot, _)])
        {
            return slots.Length == 0
                ? $"Name a target, a device or a folder on the board, or the card with --tag: {entry.Board} shows no card in a slot now."
                : $"Name the card with --tag or its slot: {entry.Board} has cards in "
                    + $"{string.Join(", ", slots.Select(s => "/dev/" + s.Slot.DiskName))}.";
        }

        entry.Target = "/dev/" + slot.DiskName;
        notes.Add($"{entry.Target} is the only slot of {entry.Board} that holds a card.");
        return null;
    }

    /// <summary>
    /// Where a reader hides the registers, a consent is for the medium that is in it now: the next one
    /// would show the same of itself.
    /// </summary>
    private V1.Medium? HiddenMedium(V1.ScheduleEntry entry) =>
        entry.HasEraseIdentity && boards.Find(entry.Board)?.Presence is { } presence
        && presence.Slots.FirstOrDefault(s => "/dev/" + s.DiskName == entry.Target) is { IdentityFromRegisters: false,
            HasDiskSequence: true } slot
            ? Media.Of(entry.Board, presence, slot)
            : null;

    private static string? ConsentFormProblem(V1.ScheduleEntry entry) =>
        entry is { HasEraseIdentity: true } && !CardIdentity.IsIdentity(entry.EraseIdentity)
            ? $"--erase \"{entry.EraseIdentity}\" is no identity of a card: consent names the very card, as `cardassay-agent identify` and "
                + "`boards --json` print it."
            : entry is { HasEraseIdentity: true } && entry.Target.Length > 0 && !entry.Target.StartsWith("/dev/", StringComparison.Ordinal)
                ? $"--erase is for a whole device, and {entry.Target} is a folder: leave --erase away, "
                    + "a folder's other files are never overwritten."
                : null;

    private string? ConsentProblem(V1.ScheduleEntry entry)
    {
        if (ConsentFormProblem(entry) is { } problem)
        {
            return problem;
        }

        (V1.Slot Slot, RecognisedCard Card)[] slots = Slots(entry.Board);
        V1.Slot? slot = slots.FirstOrDefault(
            s => entry.Target.Length > 0 ? "/dev/" + s.Slot.DiskName == entry.Target : s.Card.Tag == entry.Tag).Slot;
        string? identity = slot?.Identity ?? (entry.HasTag ? cards.IdentityOf(entry.Tag) : null);
        if (entry.HasEraseIdentity)
        {
            return identity is null || identity == entry.EraseIdentity
                ? null
                : $"--erase names {entry.EraseIdentity}, but the card {(slot is null ? entry.Tag : "in /dev/" + slot.DiskName)} is "
                    + $"{identity}: give the identity of the card that is meant.";
        }

        bool isDevice = entry.Target.StartsWith("/dev/", StringComparison.Ordinal) || entry.Target.Length == 0;
        return isDevice && PlanOf(entry) is { Writes: true }
            ? $"The plan {entry.PlanName} overwrites the whole card: consent with --erase "
                + $"{identity ?? "IDENTITY, as `cardassay-agent identify` prints it"}, or name a folder on the "
                + "card, which destroys nothing."
            : null;
    }

    /// <summary>A plan with a budget for a night uses it up in one run.</summary>
    private static string? BudgetProblem(V1.ScheduleEntry entry) =>
        entry.Repeat > 1 && !entry.UntilSettled && PlanOf(entry)?.Limits.MaxCapacities is { } times
            ? string.Create(CultureInfo.InvariantCulture,
                $"The plan {entry.PlanName} writes up to {times:0.##} times the card in a night, and one run of it uses that up: "
                    + $"a second one would be refused. Leave out --repeat, or say --until settled, which makes one run a night.")
            : null;

    /// <summary>What is done with a card nobody has consented to overwrite writes nothing.</summary>
    private static string? LookProblem(V1.ScheduleEntry entry) =>
        Plan(entry.HasLookPlanText ? entry.LookPlanText : null, entry.LookPlanName) is not { Writes: false }
        ? $"--look {entry.LookPlanName}: this plan writes, and nobody has consented for a card that was just put in; "
            + "name one that only reads, such as read-only."
        : null;

    private static Plan? PlanOf(V1.ScheduleEntry entry) => Plan(entry.HasPlanText ? entry.PlanText : null, entry.PlanName);

    private static Plan? Plan(string? text, string name)
    {
        try
        {
            return text is not null ? PlanReader.Parse(text, name) : BuiltInPlans.Find(name);
        }
        catch (PlanException)
        {
            return null; // the board says what it cannot read
        }
    }

    private (V1.Slot Slot, RecognisedCard Card)[] Slots(string board) => boards.Find(board)?.Presence is { } presence
        ? [.. presence.Slots.Select(s => (s, cards.Recognise(board, presence, s)))]
        : [];

    private static string Named(V1.ScheduleEntry entry) =>
        entry.Target.Length > 0 ? entry.Target : entry.HasTag ? entry.Tag : "no target";
}

/// <summary>What came of considering an entry.</summary>
/// <param name="Entry">The entry with everything filled in, under a number of its own.</param>
/// <param name="Notes">What was filled in and what a person should know, sentences.</param>
/// <param name="Refusal">Why it cannot be, one sentence with the remedy; null when nothing speaks against it.</param>
internal sealed record ConsideredEntry(V1.ScheduleEntry Entry, IReadOnlyList<string> Notes, string? Refusal);
