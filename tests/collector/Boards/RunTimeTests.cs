using Cardassay.Collector.Boards;

namespace Cardassay.Collector.Tests.Boards;

public sealed class RunTimeTests
{
    /// <summary>Order statistics of alike, independent runs: the bound must hold at least nine times in ten, whatever the distribution.</summary>
    [Theory]
    [InlineData(9)]
    [InlineData(14)]
    [InlineData(40)]
    public void Bound_FromEarlierRuns_HoldsNineTimesInTen(int runs)
    {
        const int trials = 20_000;
        var random = new Random(17 + runs);
        double Seconds() => 600 * Math.Exp(random.NextDouble() * random.NextDouble() * 3); // skewed, no normal distribution
        int held = Enumerable.Range(0, trials).Count(_ => Seconds() <= RunTime.Of([.. Enumerable.Range(0, runs).Select(_ => Seconds())], 0, 0).Bound);
        Assert.InRange(held / (double)trials, 0.9 - 0.008, 0.97); // 0.008: 3.8 standard errors of 20,000 trials
    }

    [Fact]
    public void Bound_OfFewRuns_IsTheEstimateAtTheMost() =>
        Assert.Equal(new RunTime(100, 5000), RunTime.Of([90, 100, 120], 50, 5000));

    [Fact]
    public void Bound_IsNeverBelowTheLongestOfFewRuns() =>
        Assert.Equal(9000, RunTime.Of([9000], 50, 5000).Bound);

    [Theory]
    [InlineData(3)]
    [InlineData(30)]
    public void Proof_OnceForACard_IsAddedToWhatRunsWithoutOneTook(int runs)
    {
        double[] past = [.. Enumerable.Repeat(100.0, runs)];
        RunTime without = RunTime.Of(past, 50, 200);
        Assert.Equal(new RunTime(without.Expected + 3600, without.Bound + 3600), RunTime.Of(past, 50 + 3600, 200 + 3600, 3600));
    }

    [Fact]
    public void Nothing_Known_IsAnHour() => Assert.Equal(new RunTime(3600, 3600), RunTime.Of([], 0, 0));
}
