using Cardassay.Plans;

namespace Cardassay.SharedCore.Tests.Plans;

public sealed class PlanEstimateTests
{
    [Fact]
    public void Of_FirstLook_TakesAboutAMinute()
    {
        Plan plan = BuiltInPlans.Find("first-look")!;
        PlanEstimate estimate = PlanEstimate.Of(plan, plan.ScratchBytes, fillsEverything: true);

        // By hand: 12 trials and a closing one of 3.5 s, and 64 MiB written at 10 MB/s and read at 20 MB/s.
        Assert.Equal((13 * 3.5) + (67.108864 / 10) + (67.108864 / 20), estimate.SecondsAtMost, 6);
        Assert.Equal(13, estimate.TrialsAtMost);
        Assert.Equal((64L << 20) + (4 * (512L << 20)) + (3 * (128L << 20)), estimate.WriteBytesAtMost);
        Assert.InRange(estimate.SecondsAtMost, 45, 70);
    }

    [Fact]
    public void Of_EveryBuiltInPlan_KeepsWithinItsOwnLimits()
    {
        foreach (string name in BuiltInPlans.Names)
        {
            Plan plan = BuiltInPlans.Find(name)!;
            PlanEstimate estimate = PlanEstimate.Of(plan, 32L << 30, fillsEverything: false);
            Assert.True(estimate.SecondsAtLeast < plan.Limits.MaxSeconds, $"{name}: {estimate}");
            Assert.True(estimate.WriteBytesAtMost < plan.Limits.MaxWriteBytes, $"{name}: {estimate}");
        }
    }

    [Fact]
    public void Of_TargetTooSmall_NamesTheStep()
    {
        var error = Assert.Throws<PlanException>(() => PlanEstimate.Of(BuiltInPlans.Find("overnight")!, 64 << 20, fillsEverything: false));
        Assert.Equal("steps[0].range", error.Key);
        Assert.Contains("1 GiB", error.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void FillRanges_OverlappingReads_AreMerged()
    {
        Plan plan = PlanReader.Parse(
            """
            { "name": "a", "version": "1", "steps": [
              { "kind": "randomRead", "seconds": 1, "range": { "startBytes": "8 MiB", "bytes": "8 MiB" } },
              { "kind": "randomRead", "seconds": 1, "range": { "startBytes": "12 MiB", "bytes": "8 MiB" } },
              { "kind": "randomWrite", "seconds": 1, "bytes": "1 MiB", "range": { "startBytes": "40 MiB", "bytes": "8 MiB" } },
              { "kind": "sequentialRead", "seconds": 1, "range": { "startBytes": 0, "bytes": "4 MiB" } } ] }
            """,
            "a");
        IReadOnlyList<ResolvedStep> steps = ResolvedStep.PlaceAll(plan, 64 << 20);
        Assert.Equal([(0, 4L << 20), (8L << 20, 20L << 20)], PlanEstimate.FillRanges(plan, steps, fillsEverything: false));
        Assert.Equal([(0, 4L << 20), (8L << 20, 20L << 20), (40L << 20, 48L << 20)], PlanEstimate.FillRanges(plan, steps, fillsEverything: true));
    }

    [Fact]
    public void FillRanges_PlanThatOnlyReads_WritesNothingOnADevice()
    {
        Plan plan = PlanReader.Parse("""{ "name": "a", "version": "1", "steps": [ { "kind": "randomRead", "seconds": 1 } ] }""", "a");
        Assert.Empty(PlanEstimate.FillRanges(plan, ResolvedStep.PlaceAll(plan, 1L << 30), fillsEverything: false));
        Assert.Equal(0, PlanEstimate.Of(plan, 1L << 30, fillsEverything: false).WriteBytesAtMost);
    }
}
