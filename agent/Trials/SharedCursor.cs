namespace Cardassay.Agent.Trials;

/// <summary>Hands out ascending numbers to the slots of a sequential trial without a lock.</summary>
internal sealed class SharedCursor(long first)
{
    private long _next = first - 1;

    public long Next() => Interlocked.Increment(ref _next);
}
