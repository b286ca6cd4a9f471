using Cardassay.Judging;
using Cardassay.Trials;

namespace Cardassay.Collector.Analysis.Figures;

/// <summary>What a trial was told and where it ran, as far as figures pool by it or its latency is read by it.</summary>
/// <param name="Kind">Trial kind.</param>
/// <param name="BlockBytes">Bytes of one operation.</param>
/// <param name="QueueDepth">Operations in flight.</param>
/// <param name="Variant"><see cref="ComparabilityKey.Variant"/>.</param>
/// <param name="Range">The part of the card.</param>
/// <param name="Fill">How much of the card had been written before.</param>
/// <param name="BusMode">Bus mode as the kernel names it; null where it does not.</param>
/// <param name="StallLimitNs">
/// From which latency on an operation is a stall, ns; of a mixed trial its writes. 0 where none was watched for.
/// </param>
/// <param name="ReadStallLimitNs">The same of the reads of a mixed trial, ns.</param>
public sealed record FigureConditions(
    TrialKind Kind, long BlockBytes, int QueueDepth, string Variant, AddressRange Range, CardFill Fill, string? BusMode,
    long StallLimitNs, long ReadStallLimitNs);

/// <summary>The figure of a trial and what becomes of it, as far as its own run tells.</summary>
/// <param name="Of">What it is a figure of.</param>
/// <param name="Record">Record of the trial.</param>
/// <param name="Value">In the unit of the kind.</param>
/// <param name="Repetition">Repetition within the run, from 1.</param>
/// <param name="Rule">The rule that sets it aside, or null.</param>
/// <param name="Reasons">What the board said against the trial.</param>
public sealed record TrialOutcome(
    FigureConditions Of, RecordKey Record, double Value, int Repetition, SetAsideRule? Rule, IReadOnlyList<string> Reasons)
{
    /// <summary>Its operations; of a mixed trial whose reads were counted apart, its writes.</summary>
    public SlowOperations Slow { get; init; }

    /// <summary>The reads of such a trial; null for any other.</summary>
    public SlowOperations? SlowReads { get; init; }
}

/// <summary>The slowest operations of a trial.</summary>
/// <param name="LongestNs">Longest latency, ns; 0 without any operation.</param>
/// <param name="Stalls">Operations over the limit of a stall.</param>
public readonly record struct SlowOperations(long LongestNs, long Stalls);

/// <summary>The longest stall of a run of one kind.</summary>
/// <param name="Kind">Trial kind.</param>
/// <param name="IsRead">True for a read.</param>
/// <param name="IsCardAlone">True where an operation waits for the card and for nothing else.</param>
/// <param name="LatencyNs">How long it took, ns.</param>
/// <param name="Record">Record of the trial.</param>
public sealed record LongStall(TrialKind Kind, bool IsRead, bool IsCardAlone, long LatencyNs, RecordKey Record);

/// <summary>A trial in which the card completed nothing.</summary>
public sealed record EmptyTrial(TrialKind Kind, long ElapsedNs, RecordKey Record);

/// <summary>
/// What the analysis needs of the trials of one run. It follows from the run alone, so that it is worked out once; the trials themselves
/// are read only where somebody looks at the card.
/// </summary>
public sealed record RunFigures
{
    /// <summary>The trials, by index.</summary>
    public IReadOnlyList<TrialOutcome> Trials { get; init; } = [];

    /// <summary>How long they took together, ns.</summary>
    public long ElapsedNs { get; init; }

    /// <summary>Trials the board calls valid.</summary>
    public int Valid { get; init; }

    /// <summary>The longest stall of each kind; the conditions of the trial explain none of them.</summary>
    public IReadOnlyList<LongStall> Stalls { get; init; } = [];

    /// <summary>Trials in which the card completed nothing, by index.</summary>
    public IReadOnlyList<EmptyTrial> Empty { get; init; } = [];

    /// <summary>Places of closing trials among <see cref="Trials"/>, each with its figure over that of the run's first trial.</summary>
    public IReadOnlyList<(int Place, double Ratio)> Closing { get; init; } = [];

    /// <summary>True when it has trials of a speed class.</summary>
    public bool HasClass => Trials.Any(t => TrialKinds.IsClass(t.Of.Kind));

    /// <summary>The figures of a run.</summary>
    /// <param name="opened">How it was opened.</param>
    /// <param name="card">What its card said; null when that is missing.</param>
    /// <param name="trials">Its trials, by index, with their parts joined.</param>
    public static RunFigures Of(RunOpened opened, CardIdentified? card, IReadOnlyList<TrialRecord> trials)
    {
        ArgumentNullException.ThrowIfNull(opened);
        ArgumentNullException.ThrowIfNull(trials);
        long cardBytes = card is { DiskBytes: > 0 } ? card.DiskBytes : opened.Target == TargetKind.Device ? opened.TargetBytes : 0;
        var conditions = new Dictionary<FigureConditions, FigureConditions>();
        var outcomes = new TrialOutcome[trials.Count];
        var stalls = new Dictionary<(TrialKind, bool, bool), LongStall>();
        var empty = new List<EmptyTrial>();
        var closing = new List<(int, double)>();
        (TrialMeasured Trial, double Value)? first = null;
        for (int i = 0; i < outcomes.Length; i++)
        {
            TrialMeasured trial = trials[i].Trial;
            FigureConditions of = ConditionsOf(trial, opened, cardBytes);
            of = conditions.TryAdd(of, of) ? of : conditions[of];
            SetAsideRule? rule = TrialScreen.RuleFor(opened, trial);
            TrialOutcome outcome = WithSlow(
                new TrialOutcome(of, trials[i].Key, TrialFigure.Of(trial), trial.Repetition, rule, trial.Reasons), trial);
            outcomes[i] = outcome;
            NoteStalls(opened.Target, trials[i], rule, stalls, empty);
            if (rule == SetAsideRule.ClosingRole && first is { Value: > 0 } opening && IsSameTrial(opening.Trial, trial))
            {
                closing.Add((i, outcome.Value / opening.Value));
            }

            if (rule is null && first is null && trial.Kind != TrialKind.Cliff && !ComparabilityKey.IsFirstPassOf(of.Variant))
            {
                first = (trial, outcome.Value); // the first of the rounds: what comes once before them is not what is repeated last
            }
        }

        return new RunFigures
        {
            Trials = outcomes,
            ElapsedNs = trials.Sum(t => t.Trial.ElapsedNs),
            Valid = trials.Count(t => t.Trial.Valid),
            Stalls = [.. stalls.Values],
            Empty = empty,
            Closing = closing,
        };
    }

    private static FigureConditions ConditionsOf(TrialMeasured trial, RunOpened opened, long cardBytes) => new(
        trial.Kind, trial.BlockBytes, trial.QueueDepth, ComparabilityKey.VariantOf(trial), AddressRange.Of(trial, cardBytes),
        opened.Target == TargetKind.Device ? CardFills.Of(trial, cardBytes) : CardFill.NotMeasured,
        trial.Before.BusMode ?? trial.After.BusMode, trial.StallLimitNs, trial.ReadStallLimitNs);

    // Reads and writes have limits of their own: where they were counted apart, so are their stalls.
    private static TrialOutcome WithSlow(TrialOutcome outcome, TrialMeasured trial)
    {
        if (!TrialKinds.CountsOperations(trial.Kind))
        {
            return outcome;
        }

        if (trial.ReadLatency is not { } reads)
        {
            return outcome with { Slow = new SlowOperations(trial.Latency.MaxNs, trial.StallCount) };
        }

        LatencyHistogram writes = trial.Latency.Without(reads);
        return outcome with
        {
            Slow = new SlowOperations(writes.MaxNs, writes.CountAbove(trial.StallLimitNs)),
            SlowReads = new SlowOperations(reads.MaxNs, reads.CountAbove(trial.ReadStallLimitNs)),
        };
    }

    private static bool IsSameTrial(TrialMeasured opening, TrialMeasured closing) => opening.Kind == closing.Kind
        && opening.BlockBytes == closing.BlockBytes && opening.QueueDepth == closing.QueueDepth && opening.Pass == closing.Pass
        && opening.RangeBytes == closing.RangeBytes;

    private static void NoteStalls(
        TargetKind target, TrialRecord record, SetAsideRule? rule, Dictionary<(TrialKind, bool, bool), LongStall> stalls,
        List<EmptyTrial> empty)
    {
        // The conditions explain a stall under low voltage, throttling, link errors or foreign traffic; the card is not to blame.
        TrialMeasured trial = record.Trial;
        bool nothing = TrialScreen.CompletedNothing(trial);
        if ((trial.StallCount == 0 && !nothing) || rule is not (null or SetAsideRule.ClosingRole or SetAsideRule.WarmUpRole))
        {
            return;
        }

        if (nothing)
        {
            empty.Add(new EmptyTrial(trial.Kind, trial.ElapsedNs, record.Key));
        }

        IEnumerable<(bool IsRead, long LatencyNs)> seen = trial.Stalls.Select(s => (s.IsRead, s.LatencyNs));
        foreach ((bool isRead, long latencyNs) in nothing ? seen.Append((false, trial.ElapsedNs)) : seen)
        {
            // Below a file system, or behind another operation, an operation waits for more than the card.
            bool isCardAlone = target == TargetKind.Device && trial.QueueDepth <= 1;
            var of = (trial.Kind, isRead || !TrialKinds.Writes(trial.Kind), isCardAlone);
            if (latencyNs > (stalls.TryGetValue(of, out LongStall? longest) ? longest.LatencyNs : 0))
            {
                stalls[of] = new LongStall(trial.Kind, of.Item2, isCardAlone, latencyNs, record.Key);
            }
        }
    }
}
