namespace Cardassay.Agent.CapacityProof;

/// <summary>Measures how fast a proof goes and tells the observer about twice a second.</summary>
internal sealed class ProofRate(ProofContext context)
{
    private const double TellEverySeconds = 0.5;

    private readonly Dictionary<string, long> _ns = new(StringComparer.Ordinal);
    private string _phase = "";
    private long _last;
    private long _told;
    private long _toldDone;

    /// <summary>Time spent in phases whose name begins so, ns.</summary>
    public long NsOf(string phase) => _ns.Where(p => p.Key.StartsWith(phase, StringComparison.Ordinal)).Sum(p => p.Value);

    /// <summary>Says how far a phase is; a new name begins a new phase.</summary>
    /// <param name="phase">Its name.</param>
    /// <param name="done">Units done.</param>
    /// <param name="total">Units of the phase.</param>
    /// <param name="map">Draws <see cref="ProofProgress.Map"/>; asked only when it is shown.</param>
    public void Tell(string phase, long done, long total, Func<string>? map = null)
    {
        long now = context.Time.GetTimestamp();
        if (phase != _phase)
        {
            _phase = phase;
            _last = _told = now;
            _toldDone = done;
            return;
        }

        _ns[phase] = _ns.GetValueOrDefault(phase) + (long)context.Time.GetElapsedTime(_last, now).TotalNanoseconds;
        _last = now;
        double seconds = context.Time.GetElapsedTime(_told, now).TotalSeconds;
        if (seconds < TellEverySeconds && done < total)
        {
            return;
        }

        double perSecond = seconds > 0 ? (done - _toldDone) / seconds : 0;
        context.Observer.OnProgress(new ProofProgress(
            phase, (double)done / total, perSecond * 4096, perSecond > 0 ? TimeSpan.FromSeconds((total - done) / perSecond) : null, map?.Invoke() ?? ""));
        _told = now;
        _toldDone = done;
    }
}
