namespace Cardassay.Collector.Boards;

/// <summary>An entry seen together with its board as it is now.</summary>
/// <param name="Entry">The entry.</param>
/// <param name="Effective">What the board is told: target and tag filled in where they follow from the card in the slot.</param>
/// <param name="WaitsFor">Why it cannot begin now, apart from time, as a sentence; null when it can.</param>
/// <param name="Notes">What a person should know, as sentences.</param>
/// <param name="Time">How long one run takes.</param>
/// <param name="OnceSeconds">Of that what only the next run takes: a capacity proof, which a card has once.</param>
internal sealed record EntryView(ScheduledEntry Entry, V1.ScheduleEntry Effective, string? WaitsFor, IReadOnlyList<string> Notes, RunTime Time, double OnceSeconds = 0)
{
    internal NightEntry ForNight() => new(
        Entry.Schedule.ScheduleId, (uint)Entry.Attempts.Count, Entry.Left, Time, Entry.NotBefore, Entry.StopBy, WaitsFor is null)
    {
        OnceSeconds = OnceSeconds,
    };
}
