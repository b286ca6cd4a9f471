namespace Cardassay.Collector.Tests.Live;

/// <summary>A clock that stands still until it is moved; its timers never fire.</summary>
internal sealed class StandingClock : TimeProvider
{
    private DateTimeOffset _now = new(2031, 3, 13, 6, 0, 0, TimeSpan.Zero);

    public override DateTimeOffset GetUtcNow() => _now;

    public override ITimer CreateTimer(TimerCallback callback, object? state, TimeSpan dueTime, TimeSpan period) => new Still();

    internal void Move(TimeSpan by) => _now += by;

    private sealed class Still : ITimer
    {
        public bool Change(TimeSpan dueTime, TimeSpan period) => true;

        public void Dispose()
        {
        }

        public ValueTask DisposeAsync() => ValueTask.CompletedTask;
    }
}
