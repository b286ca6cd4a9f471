using Cardassay.ModelCards.Tests.Models;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.ModelCards.Tests;

/// <summary>A region that moves lies elsewhere in another run, and at one place in one.</summary>
public sealed class RegionTests
{
    [Fact]
    public void SystemDisk_OtherSeeds_OtherPlacesUnderOneKey()
    {
        var starts = new HashSet<long>();
        var night = new Night(new CardModel());
        for (ulong seed = 1; seed <= 4; seed++)
        {
            Plan plan = BuiltInPlans.Find("system-disk")!;
            night.Run(plan with { Repetitions = Repetitions.Fixed(1), Steps = [.. plan.Steps.Take(5)] }, seed);
            TrialMeasured[] moved = [.. night.Trials.Where(trial => trial.RangeMoves && trial.Kind != TrialKind.Cliff)];
            starts.Add(Assert.Single(moved.Select(trial => trial.RangeStartBytes).Distinct()));
            Assert.All(moved, trial => Assert.InRange(trial.RangeStartBytes + trial.RangeBytes, 0, ModelCard.Size));
            Assert.All(night.Trials.Where(trial => !trial.RangeMoves), trial => Assert.Equal(ModelCard.Size, trial.RangeBytes));
        }

        Assert.True(starts.Count >= 3, string.Join(", ", starts));
        Assert.Contains(night.Report().Metrics, metric => metric.Key == "randomRead" && metric.Series.Contains("1 GiB that move from run to run", StringComparison.Ordinal));
    }
}
