namespace Cardassay.Agent.Tests.Commands;

/// <summary>A clock that goes faster than the machine's, timers included: limits of minutes pass in seconds.</summary>
/// <param name="factor">How many times as fast.</param>
internal sealed class HurriedTime(int factor) : TimeProvider
{
    private readonly long _begun = System.GetTimestamp();

    public override long GetTimestamp() => _begun + ((System.GetTimestamp() - _begun) * factor);

    public override ITimer CreateTimer(TimerCallback callback, object? state, TimeSpan dueTime, TimeSpan period) =>
        System.CreateTimer(callback, state, Hurried(dueTime), Hurried(period));

    private TimeSpan Hurried(TimeSpan time) => time == Timeout.InfiniteTimeSpan ? time : time / factor;
}
