namespace Cardassay.Collector.Boards;

/// <summary>An entry seen together with its board as it is now.</summary>
/// <param name="Entry">The entry.</param>
/// <param name="Effective">What the board is told: target and tag filled in where they follow from the card in the slot.</param>
/// <param name="WaitsFor">Why it cannot begin now, apart from time, as a sentence; null when it can.</param>
/// <param name="Notes">What a person should know, as sentences.</param>
/// <param name="Time">How long one run takes.</param>
/// <param name="OnceSeconds">Of that what only the next run takes: a capacity proof, which a card has once.</param>
internal sealed record EntryView(
    ScheduledEntry Entry, V1.ScheduleEntry Effective, string? WaitsFor, IReadOnlyList<string> Notes, RunTime Time, double OnceSeconds = 0)
{
    internal NightEntry ForNight() => new(
        Entry.Schedule.ScheduleId, (uint)Entry.Attempts.Count, Entry.Left, Time, Entry.NotBefore, Entry.StopBy, WaitsFor is null)
    {
        OnceSeconds = OnceSeconds,
        Disk = DiskAlone,
        Writes = Ahead is not { WriteBytesAtMost: 0 },
    };

    /// <summary>What the board said when it last looked; null when it has not.</summary>
    internal V1.Preflight? Ahead { get; init; }

    /// <summary>A capacity proof, and what is done in a folder, was not tried in the test of two slots.</summary>
    private string? DiskAlone =>
        Ahead is { ProofSecondsAtMost: 0 } && Effective.Target.Split('/') is ["", "dev", { Length: > 0 } disk] ? disk : null;
}
