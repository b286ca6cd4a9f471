namespace Cardassay.Agent.Trials;

/// <summary>Hands out 0, 1, 2, ... to the slots of a sequential trial without a lock.</summary>
internal sealed class SharedCursor
{
    private long _next = -1;

    public long Next() => Interlocked.Increment(ref _next);
}
