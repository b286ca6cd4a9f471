using Cardassay.Trials;

namespace Cardassay.Plans;

/// <summary>One trial of a round.</summary>
public sealed record PlanStep
{
    /// <summary>What it does.</summary>
    public required TrialKind Kind { get; init; }

    /// <summary>Bytes of one operation: a multiple of 4,096, up to 16 MiB.</summary>
    public required int BlockBytes { get; init; }

    /// <summary>How often this step is measured, or null for what the plan says.</summary>
    public Repetitions? Repetitions { get; init; }

    /// <summary>Operations in flight at once, 1 to 64.</summary>
    public int QueueDepth { get; init; } = 1;

    /// <summary>Where; null is the plan's region.</summary>
    public PlanRange? Range { get; init; }

    /// <summary>Longest time of one trial, seconds. It always has one.</summary>
    public required double Seconds { get; init; }

    /// <summary>Most bytes one trial transfers, or null. A step that writes always has it: it bounds the wear.</summary>
    public long? Bytes { get; init; }

    /// <summary>Most operations of one trial, or null.</summary>
    public long? Operations { get; init; }

    /// <summary>
    /// Operations longer than this are kept one by one, ms. Default: the busy limits of the SD physical layer specification
    /// 4.10, 4.6.2: 100 for reading, 250 for writing.
    /// </summary>
    public double StallLimitMs { get; init; }

    /// <summary>Mixed only: part of the operations that read, percent, 1 to 99.</summary>
    public int ReadPercent { get; init; }

    /// <summary>Open-segment write only: segments written in turn, 1 to 64.</summary>
    public int OpenSegments { get; init; }

    /// <summary>
    /// Open-segment write and class write: bytes of the card's own allocation unit, put in when the card is known
    /// (<see cref="ClassUnits"/>); 0 before. A plan may state another segment for an open-segment write.
    /// </summary>
    public long SegmentBytes { get; init; }

    /// <summary>Class kinds only: the class under whose condition the trial is made.</summary>
    public ClassStandard Standard { get; init; }

    /// <summary>
    /// Synchronous write only: write past the end of the scratch file, so that the file system must make the new length durable.
    /// </summary>
    public bool Extending { get; init; }

    /// <summary>Pause between two operations of a slot, ms, 0 to 10,000; default 0.</summary>
    public double PauseMs { get; init; }

    /// <summary>
    /// Writes a second of a stall watch unless the plan says otherwise: with 64 KiB each it writes 256 MB in 3.4
    /// minutes (common practice, no source).
    /// </summary>
    public const double DefaultWritesPerSecond = 20;

    /// <summary>Stall watch only: writes that begin in a second, and as many reads, 0.1 to 500; a late one is not made up for.</summary>
    public double WritesPerSecond { get; init; }

    /// <summary>
    /// Most repetitions before the first round, which bring the card into its steady state
    /// (<see cref="SteadyState"/>): 5 to 100; 0 for none.
    /// </summary>
    public int UntilSteady { get; init; }

    /// <summary>True when the kind writes.</summary>
    public bool Writes => TrialKinds.Writes(Kind);

    /// <summary>True when the kind reads, so that the range must have known content first.</summary>
    public bool Reads => TrialKinds.Reads(Kind);
}
