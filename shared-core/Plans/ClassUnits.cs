using Cardassay.Registers;
using Cardassay.Trials;

namespace Cardassay.Plans;

/// <summary>
/// Puts the card's own allocation units into the class writes of a plan, and into open-segment writes that name no other.
/// </summary>
public static class ClassUnits
{
    /// <summary>The plan for a card.</summary>
    /// <param name="plan">As read.</param>
    /// <param name="status">SD Status of the card, or null when it is hidden: then a unit is assumed and the trial
    /// will not be judgeable.</param>
    public static Plan Fit(Plan plan, SdStatus? status) => !plan.Steps.Any(IsOpen)
        ? plan
        : plan with
        {
            Steps =
            [
                .. plan.Steps.Select(step => IsOpen(step)
                    ? step with
                    {
                        SegmentBytes = Whole(step.Kind == TrialKind.ClassWrite
                            ? UnitOf(status, step.Standard)
                            : status?.AllocationUnitBytes, step.BlockBytes),
                    }
                    : step),
            ],
        };

    /// <summary>
    /// The allocation unit a class is defined over, bytes; null when the card does not state it. SD Status (SD physical layer
    /// specification 4.10, 4.10.2): AU_SIZE for the speed class, UHS_AU_SIZE for the grade, VSC_AU_SIZE for the video class, whose unit
    /// of "MB" is taken as 2^20 bytes (from memory). For the application class no unit is defined; the UHS one is used.
    /// </summary>
    public static long? UnitOf(SdStatus? status, ClassStandard standard) => status is null ? null : standard switch
    {
        ClassStandard.SpeedClass => status.AllocationUnitBytes,
        ClassStandard.UhsGrade => status.UhsAllocationUnitBytes,
        ClassStandard.VideoClass => status.VideoAllocationUnitMegabytes > 0 ? (long)status.VideoAllocationUnitMegabytes << 20 : null,
        ClassStandard.ApplicationClass => status.UhsAllocationUnitBytes ?? status.AllocationUnitBytes,
        _ => null,
    };

    private static bool IsOpen(PlanStep step) =>
        step.Kind == TrialKind.ClassWrite || (step.Kind == TrialKind.OpenSegmentWrite && step.SegmentBytes == 0);

    /// <summary>A unit smaller than a block, or none, is replaced by the assumed one; the trial is then not judgeable.</summary>
    private static long Whole(long? unitBytes, long blockBytes) =>
        unitBytes is { } unit && unit >= blockBytes && unit % blockBytes == 0 ? unit : ClassConditions.AssumedUnitBytes;
}
