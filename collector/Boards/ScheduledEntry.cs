using Cardassay.Trials;

namespace Cardassay.Collector.Boards;

/// <summary>One entry of the schedule with what came of it so far.</summary>
internal sealed class ScheduledEntry(V1.ScheduleEntry schedule, DateTimeOffset setAt)
{
    private readonly List<ScheduleAttempt> _attempts = [];

    internal V1.ScheduleEntry Schedule { get; } = schedule;

    /// <summary>When a person set it.</summary>
    internal DateTimeOffset SetAt { get; } = setAt;

    internal IReadOnlyList<ScheduleAttempt> Attempts => _attempts;

    internal uint Done => (uint)_attempts.Count(a => a.Ok);

    /// <summary>Runs that failed or were interrupted.</summary>
    internal uint Failed => (uint)_attempts.Count(a => !a.Ok);

    /// <summary>Why it was closed before all its runs were made, and when; null while it was not.</summary>
    internal (V1.ScheduleClosed Event, DateTimeOffset At)? Closed { get; private set; }

    /// <summary>Why the card is skipped, as a sentence; null while it is not.</summary>
    internal string? WhyGivenUp => FailureRule.WhyGivenUp(_attempts);

    /// <summary>True when a person took it back or put another in its place.</summary>
    internal bool Withdrawn { get; private set; }

    /// <summary>True for a consent, or a look, that ended because another card is in the slot.</summary>
    internal bool IsVoid => Closed?.Event.Reason == V1.ScheduleClosed.Types.Reason.CardChanged;

    internal bool IsOver => Withdrawn || Closed is not null || Done >= Schedule.Repeat || WhyGivenUp is not null;

    /// <summary>Runs still to be made; for one that is repeated until something happens, the most.</summary>
    internal uint Left => IsOver ? 0 : Schedule.Repeat - Done;

    internal DateTimeOffset? NotBefore => Schedule.HasNotBeforeUnixNs ? UnixTime.At(Schedule.NotBeforeUnixNs) : null;

    internal DateTimeOffset? StopBy => Schedule.HasStopByUnixNs ? UnixTime.At(Schedule.StopByUnixNs) : null;

    /// <summary>True when a person asked for a number of runs, not for as many as something takes.</summary>
    internal bool HasFixedNumber => Schedule is { UntilStop: false, UntilSettled: false };

    internal void Add(ScheduleAttempt attempt) => _attempts.Add(attempt);

    internal void Withdraw() => Withdrawn = true;

    internal void Close(V1.ScheduleClosed closed, DateTimeOffset at) => Closed ??= (closed, at);

    /// <summary>
    /// The state in one word or two: "waiting", "running", "done", "settled", "skipped", "time over", "card changed", "standing".
    /// </summary>
    internal string StateWord(bool isRunning) =>
        isRunning ? "running"
        : Schedule.AnyCard ? "standing"
        : Done >= Schedule.Repeat ? "done"
        : Closed?.Event.Reason switch
        {
            V1.ScheduleClosed.Types.Reason.Settled => "settled",
            V1.ScheduleClosed.Types.Reason.CardChanged => "card changed",
            V1.ScheduleClosed.Types.Reason.TimeOver => Schedule.UntilStop && Done > 0 ? "done" : "time over",
            _ => WhyGivenUp is null ? "waiting" : "skipped",
        };
}
