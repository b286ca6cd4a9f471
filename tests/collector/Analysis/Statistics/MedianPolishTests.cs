using Cardassay.Collector.Analysis.Statistics;

namespace Cardassay.Collector.Tests.Analysis.Statistics;

public class MedianPolishTests
{
    [Fact]
    public void Of_DeathsExample_AgreesWithR()
    {
        // R 4.2, example of ?medpolish (deaths from sport parachuting, Velleman and Hoaglin 1981).
        MedianPolish polish = MedianPolish.Of(new double[,] { { 14, 15, 14 }, { 7, 4, 7 }, { 8, 2, 10 }, { 15, 9, 10 }, { 0, 2, 0 } });
        Assert.Equal(8, polish.Overall);
        Assert.Equal([6, -1, 0, 2, -8], polish.Rows);
        Assert.Equal([0, -1, 0], polish.Columns);
        Assert.Equal(19, polish.AbsoluteResiduals);
    }

    [Fact]
    public void Of_EmptyCells_AreLeftOut()
    {
        MedianPolish polish = MedianPolish.Of(new[,] { { 10, 12, double.NaN }, { 20, 22, 19 }, { 30, double.NaN, 29 } });
        Assert.Equal(0, polish.AbsoluteResiduals, 1e-3);
        Assert.Equal(3, polish.Columns[1] - polish.Columns[2], 1e-3);
    }
}
