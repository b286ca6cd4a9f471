namespace Cardassay.Benchmarks.Analysis;

/// <summary>Samples the managed heap every few milliseconds and keeps the largest value, garbage not yet collected included.</summary>
internal sealed class PeakWatch : IDisposable
{
    private readonly Timer _timer;
    private long _peak;

    public PeakWatch() => _timer = new Timer(_ => Sample(), null, 0, 5);

    /// <summary>Largest heap seen, bytes.</summary>
    public long Stop()
    {
        Sample();
        _timer.Change(Timeout.Infinite, Timeout.Infinite);
        return _peak;
    }

    public void Dispose() => _timer.Dispose();

    private void Sample() => _peak = Math.Max(_peak, GC.GetTotalMemory(forceFullCollection: false));
}
