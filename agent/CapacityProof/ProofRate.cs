namespace Cardassay.Agent.CapacityProof;

/// <summary>Measures how fast a proof goes and tells the observer about twice a second.</summary>
/// <param name="context">What surrounds the proof.</param>
/// <param name="budget">Time the proof was given: that tells what is left of it, as long as some is; null tells it by
/// what is still to be done.</param>
internal sealed class ProofRate(ProofContext context, TimeSpan? budget = null)
{
    private const double TellEverySeconds = 0.5;

    private readonly long _began = context.Time.GetTimestamp();
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
    /// <param name="keepsAtLeastBytes"><see cref="ProofProgress.KeepsAtLeastBytes"/>.</param>
    /// <param name="map">Draws <see cref="ProofProgress.Map"/>; asked only when it is shown.</param>
    public void Tell(string phase, long done, long total, long keepsAtLeastBytes, Func<string>? map = null)
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
        TimeSpan? left = budget - context.Time.GetElapsedTime(_began, now) is { } rest && rest > TimeSpan.Zero ? rest
            : perSecond > 0 ? TimeSpan.FromSeconds((total - done) / perSecond)
            : null;
        context.Observer.OnProgress(
            new ProofProgress(phase, (double)done / total, perSecond * 4096, left, keepsAtLeastBytes, map?.Invoke() ?? ""));
        _told = now;
        _toldDone = done;
    }
}
