using System.Globalization;
using Cardassay.Trials;

namespace Cardassay.Judging;

/// <summary>
/// Finds figures that cannot be true. What it finds is a fault of cache or timer, never a fast card. Content that came back wrong is
/// found by whoever read it.
/// </summary>
public static class Plausibility
{
    /// <summary>
    /// No transfer through a system call is faster than this, ns (common practice, no source); a reading
    /// below is a fault of the clock.
    /// </summary>
    public const long LeastLatencyNs = 100;

    /// <summary>Reasons why the figure is impossible, as sentences; none when it may be true.</summary>
    /// <param name="trial">The trial with the conditions around it.</param>
    /// <param name="target">What it used.</param>
    public static IReadOnlyList<string> Check(TrialMeasured trial, TargetKind target)
    {
        var reasons = new List<string>();
        if (trial.Operations == 0)
        {
            return reasons;
        }

        long shortestNs = trial.Latency.Buckets().Select(bucket => bucket.LatencyNs).FirstOrDefault();
        if (shortestNs < LeastLatencyNs)
        {
            reasons.Add(string.Create(CultureInfo.InvariantCulture,
                $"An operation took {shortestNs} ns, which no transfer can: the clock is at fault."));
        }

        DeviceTraffic traffic = DeviceTraffic.Of(trial, target);
        if (traffic.IsTooLittle)
        {
            reasons.Add(string.Create(
                CultureInfo.InvariantCulture,
                $"The device transferred {traffic.MovedBytes} bytes during the trial, which claims {traffic.ClaimedBytes}: "
                    + $"the memory of the board answered, not the card."));
        }

        if (BusCeiling.BytesPerSecond(trial.Before, out _) is not { } ceiling)
        {
            return reasons;
        }

        if (trial.BytesPerSecond > ceiling * BusCeiling.Tolerance)
        {
            reasons.Add(string.Create(
                CultureInfo.InvariantCulture,
                $"{trial.BytesPerSecond / 1e6:0.0} MB/s is above the {ceiling / 1e6:0.0} MB/s that the bus mode {trial.Before.BusMode} can "
                    + $"carry: a cache answered."));
        }

        double leastNs = trial.BlockBytes / (ceiling * BusCeiling.Tolerance) * 1e9;
        if (trial.Kind is TrialKind.SequentialRead or TrialKind.RandomRead && shortestNs < leastNs * LatencyHistogramError)
        {
            reasons.Add(string.Create(
                CultureInfo.InvariantCulture,
                $"A read of {trial.BlockBytes} bytes took {shortestNs} ns, but the bus mode {trial.Before.BusMode} needs {leastNs:0} ns to "
                    + $"carry it: a cache answered."));
        }

        return reasons;
    }

    /// <summary>A bucket's lowest time may lie 1 % below the time recorded.</summary>
    private const double LatencyHistogramError = 0.98;
}
