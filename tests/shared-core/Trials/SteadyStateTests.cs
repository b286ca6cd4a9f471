using Cardassay.Trials;

namespace Cardassay.SharedCore.Tests.Trials;

public sealed class SteadyStateTests
{
    // By hand: range 100 - 81 = 19 against 20 % of the mean 90.4 = 18.08: too wide; 82 makes 18 against 18.12: steady (slope 0).
    [Theory]
    [InlineData(81, false)]
    [InlineData(82, true)]
    public void IsReached_RangeAtTheLimit_IsTold(double low, bool expected) => Assert.Equal(expected, SteadyState.IsReached([90, low, 90, 100, 91]));

    // A line of slope s has excursion 4 s over five rounds: 10 % of the mean 100 is a slope of 2.5.
    [Theory]
    [InlineData(2.5, true)]
    [InlineData(2.6, false)]
    [InlineData(-2.6, false)]
    public void IsReached_SlopeAtTheLimit_IsTold(double slope, bool expected) =>
        Assert.Equal(expected, SteadyState.IsReached([.. Enumerable.Range(-2, 5).Select(i => 100 + (slope * i))]));

    [Theory]
    [InlineData(4, false)]
    [InlineData(5, true)]
    public void IsReached_Rounds_NeedsAWindow(int rounds, bool expected) => Assert.Equal(expected, SteadyState.IsReached([.. Enumerable.Repeat(100.0, rounds)]));

    [Fact]
    public void IsReached_DeclineToALevel_IsReachedWhenTheWindowIsPastIt()
    {
        double[] figures = [1000, 990, 950, 700, 450, 300, 305, 295, 301, 299];
        Assert.Equal(10, Enumerable.Range(1, figures.Length).First(n => SteadyState.IsReached(figures[..n])));
    }

    [Fact]
    public void IsReached_LevelLongAgo_LooksAtTheLastRounds() => Assert.False(SteadyState.IsReached([100, 100, 100, 100, 100, 60, 100]));
}
