namespace Cardassay.Agent.Commands;

/// <summary>A run of the schedule that goes on.</summary>
/// <param name="Number">0, or 1 beside another.</param>
/// <param name="Entry">What is done.</param>
/// <param name="Disk">Whole disk it is done on; null for a folder.</param>
/// <param name="Run">Who does it.</param>
/// <param name="Display">Shows how far it is.</param>
internal sealed record DutyLane(int Number, V1.ScheduleEntry Entry, string? Disk, DutyRun Run, RunDisplay Display)
{
    /// <summary>How it ends.</summary>
    internal Task<V1.FinishedDuty> Work { get; set; } = Task.FromResult(new V1.FinishedDuty());

    internal V1.Progress Progress => new()
    {
        ScheduleId = Entry.ScheduleId,
        Fraction = Display.Fraction,
        SecondsLeft = Display.SecondsLeft,
        Step = Display.Step,
    };
}
