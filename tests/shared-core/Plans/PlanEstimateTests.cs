using Cardassay.Plans;

namespace Cardassay.SharedCore.Tests.Plans;

public sealed class PlanEstimateTests
{
    [Fact]
    public void Of_FirstLook_TakesAboutAMinute()
    {
        Plan plan = BuiltInPlans.Find("first-look")!;
        PlanEstimate estimate = PlanEstimate.Of(plan, plan.ScratchBytes, fillsEverything: true);

        // By hand: 12 trials and a closing one of 3.5 s, and 64 MiB written at 10 MB/s and read at 20 MB/s; three random reads, each after 256 overwrites
        // and as many first reads at 500 a second.
        Assert.Equal((13 * 3.5) + (67.108864 / 10) + (67.108864 / 20) + (3 * 2 * 256 / 500.0), estimate.SecondsAtMost, 6);
        Assert.Equal(16, estimate.TrialsAtMost);
        Assert.Equal((64L << 20) + (4 * (512L << 20)) + (3 * (128L << 20)) + (3L << 20), estimate.WriteBytesAtMost);
        Assert.InRange(estimate.SecondsAtMost, 45, 70);
        Assert.Contains("shows neither the card as a whole", plan.NotShown, StringComparison.Ordinal);
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
    public void Of_StepUntilSteady_CountsItsRounds()
    {
        PlanEstimate estimate = PlanEstimate.Of(Steady, 1L << 30, fillsEverything: false);
        Assert.Equal((30 + 2 + 1, (30 + 2 + 1) * (8L << 20)), (estimate.TrialsAtMost, estimate.WriteBytesAtMost));
        Assert.Equal((10.0 * (5 + 2 + 1), 10.0 * (30 + 2 + 1)), (estimate.SecondsAtLeast, estimate.SecondsAtMost));
    }

    [Fact]
    public void Of_Budget_BoundsWhatIsWrittenToADevice()
    {
        Plan plan = Steady with { Limits = new PlanLimits { MaxCapacities = 1.5 } };
        Assert.Equal((long)(1.5 * (128 << 20)), PlanEstimate.Of(plan with { RegionBytes = 64 << 20 }, 128 << 20, fillsEverything: false).WriteBytesAtMost);
        Assert.Equal((33 * (8L << 20)) + (64 << 20), PlanEstimate.Of(plan with { RegionBytes = 64 << 20 }, 64 << 20, fillsEverything: true).WriteBytesAtMost); // a folder has none
    }

    private static Plan Steady => PlanReader.Parse(
        """{ "name": "a", "version": "1", "repetitions": 2, "steps": [ { "kind": "randomWrite", "seconds": 10, "bytes": "8 MiB", "untilSteady": 30 } ] }""", "a");

    // By hand on 8 GB: half of it and 2 GiB in the long write; what a read of all of it needs is that less a piece at its edge.
    [Fact]
    public void Of_CliffBeforeReadingEverything_CountsItsSpaceOnce()
    {
        const long Card = 8_000_000_000;
        const string Read = """{ "kind": "randomRead", "seconds": 10, "range": { "percent": 100 } }""";
        PlanEstimate with = PlanEstimate.Of(OnePlan($$"""{ "kind": "cliff" }, {{Read}}"""), Card, fillsEverything: false);
        PlanEstimate alone = PlanEstimate.Of(OnePlan("""{ "kind": "cliff" }"""), Card, fillsEverything: false);
        const long Cliff = 3_999_793_152 + (2L << 30);
        const long Overwritten = 2L << 20; // before the random read and its repetition at the end
        Assert.Equal(Cliff, alone.WriteBytesAtMost);
        Assert.Equal(((Cliff / 10e6) + 120, (Cliff / 104e6) + 120), (alone.SecondsAtMost, alone.SecondsAtLeast));
        Assert.Equal(2, alone.TrialsAtMost);
        Assert.InRange(with.WriteBytesAtMost, Card, Card + (128L << 20));
        Assert.Equal(Card - (Card % 4096) + Cliff + Overwritten, PlanEstimate.Of(OnePlan($$"""{ "kind": "cliff" }, {{Read}}""") with { PreconditionPasses = 1 }, Card, false).WriteBytesAtMost - Card + (Card % 4096));

        // A small range may lie elsewhere than the long write.
        Assert.Equal(Cliff + (256L << 20) + Overwritten, PlanEstimate.Of(OnePlan("""{ "kind": "cliff" }, { "kind": "randomRead", "seconds": 10 }"""), Card, false).WriteBytesAtMost);

        static Plan OnePlan(string steps) => PlanReader.Parse($$"""{ "name": "a", "version": "1", "repetitions": 1, "steps": [ {{steps}} ] }""", "a");
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
