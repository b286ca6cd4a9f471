namespace Cardassay.Collector.Boards;

/// <summary>Lets one change of trust happen at a time: enrolling, renewing, inviting, revoking.</summary>
internal sealed class EnrolmentGate : IDisposable
{
    private readonly SemaphoreSlim _one = new(1, 1);

    /// <summary>Waits for the turn; disposing the result ends it.</summary>
    internal async Task<IDisposable> EnterAsync(CancellationToken cancellationToken)
    {
        await _one.WaitAsync(cancellationToken);
        return new Turn(_one);
    }

    public void Dispose() => _one.Dispose();

    private sealed class Turn(SemaphoreSlim one) : IDisposable
    {
        public void Dispose() => one.Release();
    }
}
