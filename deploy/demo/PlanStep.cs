using Cardassay.Trials;

namespace Cardassay.Demo;

/// <summary>One step of an invented run.</summary>
/// <param name="Kind">What is measured.</param>
/// <param name="BlockBytes">Bytes of one operation.</param>
/// <param name="RangeBytes">Bytes of the range used.</param>
/// <param name="Seconds">How long it goes on; null goes over the range once.</param>
/// <param name="Deviation">Deviation of repetitions within a run, as a share of the rate.</param>
/// <param name="LatencySpread">Width of the middle of the latency distribution (logarithmic deviation).</param>
internal sealed record PlanStep(TrialKind Kind, long BlockBytes, long RangeBytes, int? Seconds, double Deviation, double LatencySpread)
{
    /// <summary>True for kinds that write.</summary>
    public bool Writes => Kind is not (TrialKind.SequentialRead or TrialKind.RandomRead);

    /// <summary>The longest an operation may keep the card busy: 250 ms for writes, 100 ms for reads (SD Part 1 Physical Layer 4.10, 4.6.2), ns.</summary>
    public long StallLimitNs => Writes ? 250_000_000 : 100_000_000;

    /// <summary>Operations per second of a card with this pace.</summary>
    public double OperationsPerSecond(Pace pace) => Kind switch
    {
        TrialKind.RandomRead => pace.RandomReadOps,
        TrialKind.RandomWrite => pace.RandomWriteOps,
        TrialKind.SynchronousWrite => pace.SynchronousOps,
        TrialKind.SequentialRead => pace.SequentialReadMegabytes * 1e6 / BlockBytes,
        _ => pace.SequentialWriteMegabytes * 1e6 / BlockBytes,
    };
}
