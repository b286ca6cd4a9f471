namespace Cardassay.Agent.Trials;

/// <summary>Says how far a run is and what the running trial does now.</summary>
internal sealed class RunClock(RunLimits limits, double secondsAtMost)
{
    private double _endSeconds = secondsAtMost;
    private TrialTick _last;

    /// <summary>Corrects the estimate: this much is left from now on, at the most.</summary>
    public void LeftAtMost(double seconds) => _endSeconds = limits.ElapsedSeconds + seconds;

    public void BeginTrial() => _last = default;

    public RunProgress Resting() => At(0, 0) with { IsResting = true };

    public RunProgress Running(TrialTick tick)
    {
        // A new part of the preparation begins at zero again.
        TrialTick last = tick.ElapsedSeconds > _last.ElapsedSeconds ? _last : default;
        double seconds = tick.ElapsedSeconds - last.ElapsedSeconds;
        _last = tick;
        return seconds <= 0 ? At(0, 0) : At((tick.Operations - last.Operations) / seconds, (tick.Bytes - last.Bytes) / seconds);
    }

    private RunProgress At(double operationsPerSecond, double bytesPerSecond)
    {
        double elapsed = limits.ElapsedSeconds;
        double left = Math.Max(0, _endSeconds - elapsed);
        return new RunProgress(elapsed / (elapsed + left + 1e-9), TimeSpan.FromSeconds(left), operationsPerSecond, bytesPerSecond);
    }
}
