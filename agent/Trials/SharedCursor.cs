namespace Cardassay.Agent.Trials;

/// <summary>Hands out ascending numbers to the slots of a sequential trial without a lock.</summary>
internal sealed class SharedCursor(long first)
{
    private long _next = first - 1;
    private volatile bool _isEnded;

    /// <summary>True when one slot has ended and the others shall.</summary>
    public bool IsEnded => _isEnded;

    public void End() => _isEnded = true;

    public long Next() => Interlocked.Increment(ref _next);
}
