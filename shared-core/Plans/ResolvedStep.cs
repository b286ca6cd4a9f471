using System.Globalization;
using Cardassay.Trials;

namespace Cardassay.Plans;

/// <summary>A step placed on a target of known size.</summary>
/// <param name="Index">Position in the plan, from 0.</param>
/// <param name="Step">The step.</param>
/// <param name="StartBytes">First byte it uses.</param>
/// <param name="LengthBytes">Bytes it uses, a multiple of its block.</param>
/// <param name="Repetitions">How often it is measured.</param>
/// <param name="Moves">The start follows from the run's seed.</param>
/// <param name="OverwriteOperations">Operations of the <see cref="SmallOverwrite"/> before each trial; 0 for none.</param>
public sealed record ResolvedStep(
    int Index, PlanStep Step, long StartBytes, long LengthBytes, Repetitions Repetitions, bool Moves = false, long OverwriteOperations = 0)
{
    /// <summary>Most bytes one trial of it writes.</summary>
    public long WriteBytesAtMost => !Step.Writes ? 0
        : Step.Kind == TrialKind.ClassWrite ? Math.Max(Step.Bytes ?? 0, ClassConditions.LeastUnits * UnitBytes(Step))
        : TrialKinds.ReadsAndWrites(Step.Kind) ? WritesOf(Step)
        : Step.Bytes ?? 0;

    /// <summary>Bytes of the <see cref="SmallOverwrite"/> before each trial.</summary>
    public long OverwriteBytes => OverwriteOperations * Step.BlockBytes;

    /// <summary>Records one repetition leaves: the first reads after the overwrite are one of their own.</summary>
    public int TrialsEach => OverwriteOperations > 0 ? 2 : 1;

    /// <summary>Places every step of a plan.</summary>
    /// <param name="plan">The plan.</param>
    /// <param name="targetBytes">Size of the target.</param>
    /// <param name="seed">Seed of the run, which a region that moves follows from; null leaves it at the start.</param>
    /// <exception cref="PlanException">A step does not fit on the target; the message names it.</exception>
    public static IReadOnlyList<ResolvedStep> PlaceAll(Plan plan, long targetBytes, ulong? seed = null)
    {
        long longest = plan.Steps.Where(step => Moving(plan, step)).Select(step => step.Range?.Bytes ?? plan.RegionBytes)
            .DefaultIfEmpty().Max();
        long places = Math.Max(0, (targetBytes - longest) / PlanCliff.PlaceBytes) + 1;
        long regionStart = seed is { } from ? PlanCliff.PlaceBytes * (long)(from % (ulong)places) : 0;
        return [.. plan.Steps.Select((step, index) => Place(plan, step, index, targetBytes, Moving(plan, step) ? regionStart : null))];
    }

    /// <summary>
    /// What has no place of its own moves with the region; a part of the card in percent has one, and so has what a class fixes.
    /// </summary>
    private static bool Moving(Plan plan, PlanStep step) =>
        plan.RegionMoves && !TrialKinds.IsClass(step.Kind) && !step.Extending
        && (step.Range is null || step.Range is { StartBytes: null, StartPercent: null, Bytes: not null });

    /// <summary>
    /// One past the last byte a step names itself, as far as it does not depend on the target; 0 when the plan's region says it.
    /// </summary>
    public static long EndBytes(PlanStep step) =>
        step.Kind is TrialKind.ClassRandomRead or TrialKind.ClassRandomWrite
            ? ClassConditions.ApplicationRangeBytes
            : step.Range?.EndBytes ?? 0;

    /// <summary>Bytes of the allocation unit of a class write or an open-segment write; 0 for other kinds.</summary>
    public static long UnitBytes(PlanStep step) => !HasUnits(step.Kind) ? 0
        : step.SegmentBytes > 0 ? step.SegmentBytes : ClassConditions.AssumedUnitBytes;

    private static bool HasUnits(TrialKind kind) => kind is TrialKind.ClassWrite or TrialKind.OpenSegmentWrite;

    /// <summary>
    /// Most bytes written of a trial that also reads: every other operation, or so many of the mix as chance gives once
    /// in a billion trials at the most.
    /// </summary>
    private static long WritesOf(PlanStep step)
    {
        long operations = (step.Bytes ?? 0) / step.BlockBytes;
        if (step.Kind != TrialKind.Mixed)
        {
            return Math.Min(step.Bytes ?? 0, (operations + 1) / 2 * step.BlockBytes);
        }

        double part = 1 - (step.ReadPercent / 100.0);
        double most = (operations * part) + (6 * Math.Sqrt(operations * part * (1 - part))) + 1;
        return Math.Min(step.Bytes ?? 0, (long)most * step.BlockBytes);
    }

    private static ResolvedStep Place(Plan plan, PlanStep step, int index, long targetBytes, long? regionStart)
    {
        var whole = new PlanRange { StartBytes = 0, Bytes = plan.RegionBytes };
        if (step.Kind is TrialKind.ClassRandomRead or TrialKind.ClassRandomWrite)
        {
            whole = whole with { Bytes = ClassConditions.ApplicationRangeBytes };
        }

        (long start, long length) = step.Extending ? (targetBytes, step.Bytes ?? 0) : (step.Range ?? whole).On(targetBytes);
        start += regionStart ?? 0;
        if (HasUnits(step.Kind))
        {
            long unit = UnitBytes(step);
            long end = start + length;
            start += (unit - (start % unit)) % unit;
            length = Math.Max(0, end - start);
            length -= length % unit;
        }

        length -= length % step.BlockBytes;
        long least = step.Kind == TrialKind.ClassWrite ? UnitBytes(step)
            : step.OpenSegments > 0 ? step.OpenSegments * UnitBytes(step)
            : step.Kind == TrialKind.DatabaseCommit ? 2L * CommitShape.LogBlocks * step.BlockBytes
            : (long)step.BlockBytes * step.QueueDepth * TransactionShape.LogDivisor;
        string key = string.Create(CultureInfo.InvariantCulture, $"steps[{index}].range");
        if (!step.Extending && start + length > targetBytes)
        {
            throw new PlanException(
                plan.Name, 0, 0, key,
                $"The step needs the bytes up to {ByteText.Of(start + length)} but the target has {ByteText.Of(targetBytes)}",
                "Give a larger target, or a plan with a smaller range or regionBytes");
        }

        if (length < least)
        {
            throw new PlanException(
                plan.Name, 0, 0, key, $"The range of {ByteText.Of(length)} is too small for this step, which needs {ByteText.Of(least)}",
                "Widen the range, or lessen blockBytes, queueDepth or openSegments");
        }

        long overwrites = plan.Writes && SmallOverwrite.Precedes(step.Kind) ? SmallOverwrite.OperationsIn(length / step.BlockBytes) : 0;
        return new ResolvedStep(index, step, start, length, step.Repetitions ?? plan.Repetitions, regionStart is not null, overwrites);
    }
}
