using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Agent.Trials;

/// <summary>One trial, placed on its target: everything the engine needs.</summary>
internal sealed record TrialSpec
{
    public required TrialKind Kind { get; init; }

    /// <summary>Bytes of one transfer, a multiple of 4,096.</summary>
    public required int BlockBytes { get; init; }

    public int QueueDepth { get; init; } = 1;

    public required long StartBytes { get; init; }

    public required long LengthBytes { get; init; }

    public required double Seconds { get; init; }

    /// <summary>Most operations of all slots together.</summary>
    public long OperationsAtMost { get; init; } = long.MaxValue;

    /// <summary>
    /// Sequential kinds: the block to begin with, counted on through the range; a later part of a long trial goes
    /// on where the one before ended.
    /// </summary>
    public long FirstTurn { get; init; }

    /// <summary>Operations longer than this are kept one by one, ns; 0 keeps none.</summary>
    public long StallLimitNs { get; init; }

    /// <summary>The same for the reads of a kind that also writes; 0 for other kinds.</summary>
    public long ReadStallLimitNs => TrialKinds.ReadsAndWrites(Kind) ? (long)(PlanKinds.ReadStallLimitMs * 1e6) : 0;

    public int ReadPercent { get; init; }

    public int OpenSegments { get; init; }

    public long SegmentBytes { get; init; }

    public ClassStandard Standard { get; init; }

    public bool Extending { get; init; }

    /// <summary>Cliff: the part after the rest.</summary>
    public bool Recovery { get; init; }

    /// <summary>
    /// Random read: 1 reads places nobody has read since they were written, 2 only others, 0 any (<see cref="SmallOverwrite"/>).
    /// </summary>
    public int Pass { get; init; }

    /// <summary>The start of the range follows from the run's seed.</summary>
    public bool RangeMoves { get; init; }

    /// <summary>Pause between two operations of a slot, ms.</summary>
    public int PauseMs { get; init; }

    /// <summary>Time from the begin of one operation of a slot to that of the next, ns; 0 leaves it to <see cref="PauseMs"/>.</summary>
    public long PeriodNs { get; init; }

    /// <summary>Sequential reads check every block, not one in 64: the preparation of a run.</summary>
    public bool ChecksEveryBlock { get; init; }

    public required ulong Seed { get; init; }

    /// <summary>Blocks of the range.</summary>
    public long BlockCount => LengthBytes / BlockBytes;

    public static TrialSpec From(ResolvedStep placed, ulong seed)
    {
        PlanStep step = placed.Step;
        long wholeUnits = step.Kind == TrialKind.ClassWrite ? ResolvedStep.UnitBytes(step) / step.BlockBytes : 1;
        long byBytes = step.Bytes is { } bytes
            ? Math.Max(1, bytes / PlanKinds.BytesPerOperation(step.Kind, step.BlockBytes))
            : long.MaxValue;
        return new TrialSpec
        {
            Kind = step.Kind,
            BlockBytes = step.BlockBytes,
            QueueDepth = step.QueueDepth,
            StartBytes = placed.StartBytes,
            LengthBytes = placed.LengthBytes,
            Seconds = step.Seconds,
            OperationsAtMost = Whole(Math.Min(byBytes, step.Operations ?? long.MaxValue), wholeUnits),
            StallLimitNs = (long)(step.StallLimitMs * 1e6),
            ReadPercent = step.ReadPercent,
            OpenSegments = step.OpenSegments,
            SegmentBytes = ResolvedStep.UnitBytes(step),
            Standard = step.Standard,
            Extending = step.Extending,
            RangeMoves = placed.Moves,
            Pass = placed.OverwriteOperations > 0 ? 2 : 0,
            PauseMs = (int)step.PauseMs,
            PeriodNs = step.WritesPerSecond > 0 ? (long)(1e9 / (2 * step.WritesPerSecond)) : 0, // a read after each write
            Seed = seed,
        };
    }

    /// <summary>So many operations that no allocation unit is begun and not finished, and enough of them.</summary>
    private static long Whole(long operations, long perUnit) =>
        operations == long.MaxValue || perUnit == 1
            ? operations
            : Math.Max(ClassConditions.LeastUnits * perUnit, operations - (operations % perUnit));
}
