namespace Cardassay.Collector.Tests.Notices;

/// <summary>A clock that stands where a test puts it.</summary>
internal sealed class SetClock(DateTimeOffset now) : TimeProvider
{
    internal DateTimeOffset Now { get; set; } = now;

    public override DateTimeOffset GetUtcNow() => Now;
}
