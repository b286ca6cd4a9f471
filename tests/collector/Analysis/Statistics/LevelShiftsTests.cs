using Cardassay.Collector.Analysis.Statistics;

namespace Cardassay.Collector.Tests.Analysis.Statistics;

public class LevelShiftsTests
{
    [Fact]
    public void Of_Nile_FindsTheOneShift() =>
        // R's `strucchange` finds by the same criterion (BIC) one break in `Nile`, after observation 28 (its page of `breakpoints`).
        Assert.Equal([28], LevelShifts.Of(ChangeSearchTests.Nile));

    [Fact]
    public void Of_TwoShifts_FindsBoth()
    {
        double[] values = [.. Enumerable.Repeat(40.0, 10), .. Enumerable.Repeat(18.0, 12), .. Enumerable.Repeat(30.0, 9)];
        Assert.Equal([10, 22], LevelShifts.Of(values));
    }

    [Theory]
    [InlineData(0.84, 1)]
    [InlineData(0.86, 0)]
    public void Of_SmallShift_IsNoneBelowFifteenPercent(double level, int shifts)
    {
        double[] values = [.. Enumerable.Repeat(20.0, 20), .. Enumerable.Repeat(20.0 * level, 20)];
        Assert.Equal(shifts, LevelShifts.Of(values).Count);
    }

    [Theory]
    [InlineData(30)]
    [InlineData(120)]
    public void Of_OneStalledSecond_IsNoLevel(int seconds)
    {
        double[] values = [.. Enumerable.Repeat(20.0, seconds)];
        values[14] = 0;
        Assert.Empty(LevelShifts.Of(values));
    }

    [Fact]
    public void Of_TooShortOrAllZero_IsNone()
    {
        Assert.Empty(LevelShifts.Of([5, 5, 5, 1, 1]));
        Assert.Empty(LevelShifts.Of([]));
        Assert.Empty(LevelShifts.Of(new double[40]));
    }

    [Fact]
    public void Of_SteadyNoise_SeldomFindsAnything()
    {
        // 5 % noise without a shift: the least effect of 15 % keeps such trials whole.
        var random = new Random(17);
        int found = Enumerable.Range(0, 200).Count(_ => LevelShifts.Of([.. Enumerable.Range(0, 60).Select(_ => 20 * (1 + 0.05 * (random.NextDouble() + random.NextDouble() - 1)))]).Count > 0);
        Assert.Equal(0, found);
    }
}
