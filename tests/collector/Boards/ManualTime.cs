namespace Cardassay.Collector.Tests.Boards;

/// <summary>A clock that moves when told.</summary>
internal sealed class ManualTime(DateTimeOffset start) : TimeProvider
{
    internal DateTimeOffset Now { get; set; } = start;

    public override long TimestampFrequency => TimeSpan.TicksPerSecond;

    public override DateTimeOffset GetUtcNow() => Now;

    public override long GetTimestamp() => Now.UtcTicks;
}
