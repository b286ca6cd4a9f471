using Cardassay.Trials;

namespace Cardassay.Collector.Boards;

/// <summary>One try at a run of the schedule.</summary>
/// <param name="Number">Which one of its entry, from 1.</param>
/// <param name="Ok">Whether the run went through its whole plan.</param>
/// <param name="Outcome">How the run ended; unknown from boards that do not say.</param>
/// <param name="Step">Where it ended when it did not complete; "" when nobody can say.</param>
/// <param name="Text">What the board said of it.</param>
/// <param name="Run">The run, or null when none began or the board does not say.</param>
/// <param name="Seconds">How long the board worked on it; 0 when nobody can say.</param>
/// <param name="ProofSeconds">Of these on a capacity proof, which a card has once and not in every run.</param>
/// <param name="At">When the collector learned of it.</param>
internal sealed record ScheduleAttempt(
    uint Number, bool Ok, RunOutcome Outcome, string Step, string Text, RunId? Run, double Seconds, double ProofSeconds, DateTimeOffset At)
{
    internal static ScheduleAttempt Of(V1.DutyFinished finished, DateTimeOffset at) => new(
        finished.RunNumber,
        finished.Ok,
        finished.Outcome <= (uint)RunOutcome.Cancelled ? (RunOutcome)finished.Outcome : RunOutcome.Unknown,
        finished.Step,
        finished.Text,
        finished.RunId.Length == 16 ? new RunId(new Guid(finished.RunId.Span, bigEndian: true)) : null,
        finished.Seconds,
        finished.ProofSeconds,
        at);
}
