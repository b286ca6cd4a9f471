using Cardassay.ModelCards.Tests.Models;
using Cardassay.Plans;
using Cardassay.Registers;
using Cardassay.Trials;

namespace Cardassay.ModelCards.Tests;

/// <summary>Open segments are the card's own allocation units, as its registers state them.</summary>
public sealed class OpenSegmentTests
{
    [Fact]
    public void LargeUnits_TheStepLiesWhereTheCardHasIt()
    {
        Plan plan = BuiltInPlans.Find("overnight")! with { Proof = PlanProof.None };
        plan = plan with { Steps = [.. plan.Steps.Where(step => step.Kind == TrialKind.OpenSegmentWrite)] };
        Night night = new Night(new LargeUnits()).Run(ClassUnits.Fit(plan, new SdStatus { AllocationUnitCode = 14 })); // 32 MiB
        double open = CardModel.WriteTimeNs(65536);
        foreach (int segments in new[] { 1, 2, 4, 8 })
        {
            // With more units than it keeps open, every write opens one; with fewer, at most the two units of a trial, which the step before had closed.
            double most = CardModel.Ns(LargeUnits.OpeningMs) * (segments <= LargeUnits.Open ? 2.0 / 1024 : 1);
            double[] figures = night.Figures(TrialKind.OpenSegmentWrite, segments: segments);
            Assert.All(figures, figure => Assert.InRange(figure, 65536e3 / (open + most) * 0.95, 65536e3 / (segments <= LargeUnits.Open ? open : open + most) * 1.05));
        }

        // Told of units of 4 MiB, the eight segments lie in one: the cost is not found, and the key says what was taken for a unit.
        night = new Night(new LargeUnits()).Run(ClassUnits.Fit(plan, new SdStatus { AllocationUnitCode = 9 }), seed: 2);
        Assert.True(night.Figures(TrialKind.OpenSegmentWrite, segments: 8)[0] > 10 * 65536e3 / (open + CardModel.Ns(LargeUnits.OpeningMs)));
        Assert.All(night.Trials, trial => Assert.Equal(4 << 20, trial.SegmentBytes));
    }
}
