namespace Cardassay.Trials;

/// <summary>Why a trial was run.</summary>
public enum TrialRole
{
    /// <summary>Counts.</summary>
    Measured = 0,

    /// <summary>Brings the card into a stated condition; shown, not pooled.</summary>
    WarmUp = 1,

    /// <summary>The first trial of the run once more, at its end; shows whether the card changed during the run.</summary>
    Closing = 2,
}

/// <summary>One second of a trial.</summary>
/// <param name="Operations">Operations completed in that second.</param>
/// <param name="Bytes">Bytes completed in that second.</param>
/// <param name="MaxLatencyNs">Longest operation completed in that second, ns.</param>
public readonly record struct TimelineSecond(long Operations, long Bytes, long MaxLatencyNs);

/// <summary>An operation that took longer than the limit the trial watches for.</summary>
/// <param name="AtNs">When it began, ns after the start of the trial.</param>
/// <param name="OffsetBytes">Where on the target.</param>
/// <param name="LatencyNs">How long it took, ns.</param>
/// <param name="IsRead">Of a trial that reads and writes: true when it was a read.</param>
public readonly record struct Stall(long AtNs, long OffsetBytes, long LatencyNs, bool IsRead = false);

/// <summary>One measurement with its raw evidence.</summary>
public sealed record TrialMeasured : RunObservation
{
    /// <summary>Position in the run, from 0.</summary>
    public int Index { get; init; }

    /// <summary>Repetition of this step, from 1.</summary>
    public int Repetition { get; init; } = 1;

    /// <summary>
    /// A trial longer than five minutes is recorded in parts that follow each other without a pause of their own: 1, 2, ...; 0 when
    /// it is whole. Parts have the same <see cref="Repetition"/>.
    /// </summary>
    public int Part { get; init; }

    /// <summary>Whether it counts.</summary>
    public TrialRole Role { get; init; }

    /// <summary>What it did.</summary>
    public TrialKind Kind { get; init; }

    /// <summary>Bytes of one operation.</summary>
    public long BlockBytes { get; init; }

    /// <summary>Operations in flight at once (threads), 1 to 64.</summary>
    public int QueueDepth { get; init; } = 1;

    /// <summary>Mixed only: part of the operations that read, percent; else 0.</summary>
    public int ReadPercent { get; init; }

    /// <summary>Open-segment write only: segments written in turn; else 0.</summary>
    public int OpenSegments { get; init; }

    /// <summary>Open-segment write: bytes of one segment. Class write: bytes of one allocation unit. Else 0.</summary>
    public long SegmentBytes { get; init; }

    /// <summary>Class kinds only: the class under whose condition the trial was made.</summary>
    public ClassStandard Standard { get; init; }

    /// <summary>
    /// Random read only: 1 when it read places for the first time after the small overwrite before it, 2 when it read the
    /// same places once more; else 0.
    /// </summary>
    public int Pass { get; init; }

    /// <summary>Cliff only: true for the part after the rest.</summary>
    public bool Recovery { get; init; }

    /// <summary>Class write only: whole allocation units written.</summary>
    public long Units { get; init; }

    /// <summary>Class write only: units at the start that do not count; 0 in records of agents before there was such a rule.</summary>
    public long LeftOutUnits { get; init; }

    /// <summary>
    /// Class write only: bytes the speed is averaged over, the unit or a part of a large one; 0 in records of agents
    /// that averaged over whole units.
    /// </summary>
    public long CountedUnitBytes { get; init; }

    /// <summary>Class write only: time of the writes to the slowest counted unit, ns; 0 when there was none.</summary>
    public long SlowestUnitNs { get; init; }

    /// <summary>
    /// Class write only: time of the writes to each whole unit, ns, in the order written; at most <see cref="MostUnits"/>.
    /// </summary>
    public IReadOnlyList<long> UnitNs { get; init; } = [];

    /// <summary>Class write only: time of the writes to the fastest counted unit, ns; 0 when there was none or it was not kept.</summary>
    public long FastestUnitNs { get; init; }

    /// <summary>True when a synchronous write extended its file.</summary>
    public bool Extending { get; init; }

    /// <summary>First byte of the range used.</summary>
    public long RangeStartBytes { get; init; }

    /// <summary>Bytes of the range used.</summary>
    public long RangeBytes { get; init; }

    /// <summary>True when the start of the range follows from the run's seed, so that runs use different places.</summary>
    public bool RangeMoves { get; init; }

    /// <summary>
    /// Bytes the agent had written to this card before the trial, in all runs it knows of; null when it does not know the card.
    /// </summary>
    public long? WrittenBeforeBytes { get; init; }

    /// <summary>Of these the bytes since the card was last written whole; null when the agent never wrote it whole.</summary>
    public long? SinceWholeBytes { get; init; }

    /// <summary>
    /// Bytes of the card that hold what the agent wrote, counted in pieces of 64 MiB; null when it does not know the card.
    /// </summary>
    public long? FilledBytes { get; init; }

    /// <summary>Seed of this trial.</summary>
    public ulong Seed { get; init; }

    /// <summary>Operations completed.</summary>
    public long Operations { get; init; }

    /// <summary>Bytes completed.</summary>
    public long Bytes { get; init; }

    /// <summary>Time from the first operation's start to the last one's end (including a final flush where the kind has one), ns.</summary>
    public long ElapsedNs { get; init; }

    /// <summary>Latency of every operation.</summary>
    public required LatencyHistogram Latency { get; init; }

    /// <summary>Of a trial that reads and writes: the reads alone (<see cref="Latency"/> holds both); else null.</summary>
    public LatencyHistogram? ReadLatency { get; init; }

    /// <summary>Of a trial that reads and writes: bytes read (<see cref="Bytes"/> holds both); else 0.</summary>
    public long ReadBytes { get; init; }

    /// <summary>
    /// Of a trial that reads and writes: the limit for its reads, ns (<see cref="StallLimitNs"/> is that for its writes); else 0.
    /// </summary>
    public long ReadStallLimitNs { get; init; }

    /// <summary>What happened second by second.</summary>
    public IReadOnlyList<TimelineSecond> Timeline { get; init; } = [];

    /// <summary>
    /// Operations over <see cref="StallLimitNs"/>, the longest first dropped never; at most 1,000 kept, the rest only counted.
    /// </summary>
    public IReadOnlyList<Stall> Stalls { get; init; } = [];

    /// <summary>Operations over the limit, including those not kept in <see cref="Stalls"/>.</summary>
    public long StallCount { get; init; }

    /// <summary>The limit the trial watched for, ns; 0 when it watched for none.</summary>
    public long StallLimitNs { get; init; }

    /// <summary>True when everything read had been written and verified in this run or by a proof.</summary>
    public bool ContentKnown { get; init; }

    /// <summary>False when a reason in <see cref="Reasons"/> makes the figure worthless; the figure is kept all the same.</summary>
    public bool Valid { get; init; } = true;

    /// <summary>Reasons why it is invalid, or remarks the conditions call for, as sentences.</summary>
    public IReadOnlyList<string> Reasons { get; init; } = [];

    /// <summary>
    /// Longest time by which a wait of the agent's own ended late, ns: how starved the board was. 0 when it was not watched.
    /// </summary>
    public long TimerLateNs { get; init; }

    /// <summary>Conditions before the trial.</summary>
    public Conditions Before { get; init; } = new();

    /// <summary>Conditions sampled during the trial, one a second at most.</summary>
    public IReadOnlyList<Conditions> During { get; init; } = [];

    /// <summary>Conditions after the trial.</summary>
    public Conditions After { get; init; } = new();

    /// <summary>Most times of single units a record keeps.</summary>
    public const int MostUnits = 4_096;

    /// <summary>Bytes written: what wears the card.</summary>
    public long WrittenBytes => TrialKinds.Writes(Kind) ? Bytes - ReadBytes : 0;

    /// <summary>Operations per second over the whole trial; 0 when no time passed.</summary>
    public double OperationsPerSecond => ElapsedNs <= 0 ? 0 : Operations * 1e9 / ElapsedNs;

    /// <summary>Bytes per second over the whole trial; 0 when no time passed.</summary>
    public double BytesPerSecond => ElapsedNs <= 0 ? 0 : Bytes * 1e9 / ElapsedNs;

    /// <summary>
    /// Class write: bytes per second within the slowest counted unit (Pw of the SD standard); 0 when none was written whole.
    /// </summary>
    public double SlowestUnitBytesPerSecond => SlowestUnitNs <= 0 ? 0 : AveragedBytes * 1e9 / SlowestUnitNs;

    /// <summary>Class write: bytes per second within the fastest counted unit; 0 when none was written whole.</summary>
    public double FastestUnitBytesPerSecond => FastestUnitNs <= 0 ? 0 : AveragedBytes * 1e9 / FastestUnitNs;

    private long AveragedBytes => CountedUnitBytes > 0 ? CountedUnitBytes : SegmentBytes;
}
