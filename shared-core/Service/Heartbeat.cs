namespace Cardassay.Service;

/// <summary>Counts the steps work makes: an operation came back, a record was sent, a question was answered. From any thread.</summary>
public sealed class Heartbeat
{
    private long _beats;

    /// <summary>Beats so far.</summary>
    public long Beats => Interlocked.Read(ref _beats);

    /// <summary>Work has made a step.</summary>
    public void Beat() => Interlocked.Increment(ref _beats);
}
