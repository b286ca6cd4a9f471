namespace Cardassay.Simulation.Tests.CapacityProof;

/// <summary>A clock that goes on only while a proof pauses, so that an outage of 40 s takes no time.</summary>
internal sealed class SimulatedTime : TimeProvider
{
    private long _ticks;

    public override long TimestampFrequency => TimeSpan.TicksPerSecond;

    public override long GetTimestamp() => Interlocked.Read(ref _ticks);

    public override DateTimeOffset GetUtcNow() => new(GetTimestamp(), TimeSpan.Zero);

    public void Advance(TimeSpan time) => Interlocked.Add(ref _ticks, time.Ticks);
}
