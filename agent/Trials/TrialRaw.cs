using Cardassay.Trials;

namespace Cardassay.Agent.Trials;

/// <summary>How a trial ended.</summary>
internal enum TrialEnd
{
    /// <summary>It ran to its limit of time, bytes or operations.</summary>
    Finished = 0,

    /// <summary>An I/O error ended it; what was measured until then is there.</summary>
    Error = 1,

    /// <summary>It was cancelled; what was measured is not used.</summary>
    Cancelled = 2,

    /// <summary>An operation did not come back from the kernel, for long or after the trial was cancelled.</summary>
    Stuck = 3,
}

/// <summary>What the engine measured, merged over the slots.</summary>
internal sealed record TrialRaw
{
    public required TrialEnd End { get; init; }

    /// <summary>Error number when <see cref="End"/> is <see cref="TrialEnd.Error"/>.</summary>
    public int Errno { get; init; }

    public long ErrorOffset { get; init; }

    public long Operations { get; init; }

    public long Bytes { get; init; }

    public long ElapsedNs { get; init; }

    public LatencyHistogram Latency { get; init; } = new();

    /// <summary>The reads alone, of a trial that also writes; else null.</summary>
    public LatencyHistogram? Reads { get; init; }

    /// <summary>Bytes read by a trial that also writes.</summary>
    public long ReadBytes { get; init; }

    /// <summary>Longest time by which a wait of the coordinating thread ended late, ns.</summary>
    public long TimerLateNs { get; init; }

    public IReadOnlyList<TimelineSecond> Timeline { get; init; } = [];

    public IReadOnlyList<Stall> Stalls { get; init; } = [];

    public long StallCount { get; init; }

    /// <summary>Blocks of 4,096 bytes that came back other than written.</summary>
    public long Mismatches { get; init; }

    public long FirstMismatchOffset { get; init; }

    /// <summary>Blocks of 4,096 bytes read whose content this run does not know.</summary>
    public long UnknownBlocks { get; init; }

    /// <summary>Class write: whole allocation units written.</summary>
    public long Units { get; init; }

    /// <summary>Class write: time of the writes to the slowest counted part of them, ns.</summary>
    public long SlowestUnitNs { get; init; }

    /// <summary>Class write: time of the writes to each whole unit, ns, in order.</summary>
    public IReadOnlyList<long> UnitNs { get; init; } = [];

    /// <summary>Class write: time of the writes to the fastest counted part of them, ns; 0 when none counted.</summary>
    public long FastestUnitNs { get; init; }

    /// <summary>Bytes the slots allocated in the timed section: 0.</summary>
    public long AllocatedBytes { get; init; }
}
