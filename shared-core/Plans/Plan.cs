namespace Cardassay.Plans;

/// <summary>A written sequence of trials with repetitions. Read from JSON by <see cref="PlanReader"/>.</summary>
public sealed record Plan
{
    /// <summary>Default of <see cref="RegionBytes"/>: 256 MiB.</summary>
    public const long DefaultRegionBytes = 256L << 20;

    /// <summary>Name: lower-case letters, digits and hyphens, 1 to 40 characters.</summary>
    public required string Name { get; init; }

    /// <summary>Version; figures pool only within one version of one plan.</summary>
    public required string Version { get; init; }

    /// <summary>What the plan is for, in a sentence.</summary>
    public string Description { get; init; } = "";

    /// <summary>What the plan cannot show, in a sentence that stands below its results; "" when it says nothing of it.</summary>
    public string NotShown { get; init; } = "";

    /// <summary>How often each step is measured.</summary>
    public Repetitions Repetitions { get; init; } = Repetitions.Fixed(3);

    /// <summary>Rounds before the measured ones that are shown but not pooled, 0 to 10.</summary>
    public int WarmUp { get; init; }

    /// <summary>Rest between two trials, seconds, 0 to 3,600.</summary>
    public double RestSeconds { get; init; }

    /// <summary>
    /// Bytes of the target a step uses when it names no range: the first ones of a device, the whole scratch file in a folder.
    /// </summary>
    public long RegionBytes { get; init; } = DefaultRegionBytes;

    /// <summary>
    /// True when what has no place of its own lies at one that follows from the seed of the run, on a device: another part of the card each
    /// time, the same for all steps of a run. In a folder the file system decides in any case.
    /// </summary>
    public bool RegionMoves { get; init; }

    /// <summary>
    /// Times every range is written from end to end before the first trial, beyond what knowing the content needs, 0 to 10: brings a
    /// new card towards the state of a used one.
    /// </summary>
    public int PreconditionPasses { get; init; }

    /// <summary>
    /// When true, the first I/O error ends the run; else the remaining steps are still tried (unless the device is gone).
    /// </summary>
    public bool StopAtFailure { get; init; }

    /// <summary>Bounds of the whole run.</summary>
    public PlanLimits Limits { get; init; } = new();

    /// <summary>
    /// The long write before everything else, into space that nothing of the run has written; null when
    /// the plan has none. Devices only.
    /// </summary>
    public PlanCliff? Cliff { get; init; }

    /// <summary>The capacity proof before the first trial. It goes over the whole device and destroys what is on it.</summary>
    public PlanProof Proof { get; init; } = PlanProof.None;

    /// <summary>The trials of one round, in order; at least one, unless the plan is a proof or a long write alone.</summary>
    public required IReadOnlyList<PlanStep> Steps { get; init; }

    /// <summary>The JSON text it was read from, as the record of the run keeps it.</summary>
    public string Text { get; init; } = "";

    /// <summary>True when any step writes, so that the run needs permission to overwrite.</summary>
    public bool Writes => Cliff is not null || Proof.IsWanted || Steps.Any(step => step.Writes);

    /// <summary>
    /// Bytes a scratch file must have for this plan: <see cref="RegionBytes"/>, or more where a step names a farther range.
    /// </summary>
    public long ScratchBytes => Steps.Count == 0 ? 0 : Math.Max(RegionBytes, Steps.Max(ResolvedStep.EndBytes));
}

/// <summary>Bounds of a run. The run stops before the trial that would pass one.</summary>
public sealed record PlanLimits
{
    /// <summary>Longest time of the run, seconds; default 24 hours.</summary>
    public double MaxSeconds { get; init; } = 86_400;

    /// <summary>Most bytes the run may write, preparation included; default 1 TiB.</summary>
    public long MaxWriteBytes { get; init; } = 1L << 40;

    /// <summary>
    /// Most bytes that may be written to a device in one night, proofs and earlier runs included, as a multiple of the device's size; null
    /// for no such budget. What would pass it is left out, and the rest of the run goes on.
    /// </summary>
    public double? MaxCapacities { get; init; }

    /// <summary>
    /// Bytes of this budget that earlier runs of the night have written; no part of the plan, known when a run is prepared.
    /// </summary>
    public long SpentBytes { get; init; }

    /// <summary>What is left of the budget on a device of the given size, bytes; as good as no limit where the plan states none.</summary>
    public long BudgetBytes(long deviceBytes) =>
        MaxCapacities is { } times ? Math.Max(0, (long)(deviceBytes * times) - SpentBytes) : long.MaxValue;
}
