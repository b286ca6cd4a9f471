namespace Cardassay.Agent.Tests.Commands;

/// <summary>A clock that stands still.</summary>
internal sealed class FixedTime(DateTimeOffset now) : TimeProvider
{
    public override DateTimeOffset GetUtcNow() => now;
}
