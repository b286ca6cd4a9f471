namespace Cardassay.Collector.Boards;

/// <summary>What planning a night needs to know of one entry.</summary>
/// <param name="Id">Schedule id.</param>
/// <param name="Attempts">Tries so far, whatever came of them.</param>
/// <param name="Left">Runs still to be made, at the most.</param>
/// <param name="Time">How long one takes.</param>
/// <param name="NotBefore">No run begins earlier; null when any time will do.</param>
/// <param name="StopBy">No run begins that is not over by then with 90 % probability; null when there is no end.</param>
/// <param name="CanBegin">False when something other than time is in the way.</param>
internal sealed record NightEntry(
    string Id, uint Attempts, uint Left, RunTime Time, DateTimeOffset? NotBefore, DateTimeOffset? StopBy, bool CanBegin)
{
    /// <summary>Of the time of the next run what the runs after it do not take again, seconds.</summary>
    internal double OnceSeconds { get; init; }

    /// <summary>
    /// The whole disk it is measured on; null where it is to be measured alone: a folder, a capacity proof, or what
    /// the board has not looked at yet.
    /// </summary>
    internal string? Disk { get; init; }

    /// <summary>Whether its plan writes.</summary>
    internal bool Writes { get; init; } = true;

    /// <summary>The entry when its next run is made.</summary>
    internal NightEntry AfterOne() => this with
    {
        Left = Left - 1,
        Attempts = Attempts + 1,
        Time = new RunTime(Math.Max(0, Time.Expected - OnceSeconds), Math.Max(0, Time.Bound - OnceSeconds)),
        OnceSeconds = 0,
    };
}
