using Cardassay.Trials;

namespace Cardassay.SharedCore.Tests.Trials;

public sealed class SteadyStateTests
{
    // By hand: range 100 - 81 = 19 against 20 % of the mean 90.4 = 18.08: too wide; 82 makes 18 against 18.12: steady (slope 0).
    [Theory]
    [InlineData(81, false)]
    [InlineData(82, true)]
    public void IsSteady_RangeAtTheLimit_IsTold(double low, bool expected) => Assert.Equal(expected, SteadyState.IsSteady([90, low, 90, 100, 91], 0));

    // A line of slope s has excursion 4 s over five rounds: 10 % of the mean 100 is a slope of 2.5.
    [Theory]
    [InlineData(2.5, true)]
    [InlineData(2.6, false)]
    [InlineData(-2.6, false)]
    public void IsSteady_SlopeAtTheLimit_IsTold(double slope, bool expected) =>
        Assert.Equal(expected, SteadyState.IsSteady([.. Enumerable.Range(-2, 5).Select(i => 100 + (slope * i))], 0));

    [Fact]
    public void Of_DeclineToALevel_IsFreshThenTransitionThenSteady()
    {
        const RoundState F = RoundState.Fresh;
        const RoundState T = RoundState.Transition;
        const RoundState S = RoundState.Steady;
        Assert.Equal([F, F, F, T, T, S, S, S, S, S], SteadyState.Of([1000, 990, 950, 700, 450, 300, 305, 295, 301, 299]));
    }

    [Fact]
    public void Of_LevelFromTheStart_IsSteady() => Assert.All(SteadyState.Of([100, 101, 99, 100, 102, 98]), state => Assert.Equal(RoundState.Steady, state));

    [Fact]
    public void Of_FewRounds_IsUnknown() => Assert.All(SteadyState.Of([100, 100, 100, 100]), state => Assert.Equal(RoundState.Unknown, state));
}
