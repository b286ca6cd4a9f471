using System.Text.RegularExpressions;
using Cardassay.Collector.Report.Charts;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Tests.Report;

/// <summary>Charts of a card can be held against each other: the same share of the median lies at the same height, whatever the unit.</summary>
public partial class RunsScaleTests
{
    [Fact]
    public void Of_OneMetricVariesMore_SetsTheScaleOfAll()
    {
        ReportMetric steady = Metric(2000, 1990, 2010), wild = Metric(50, 30, 60);
        var scale = RunsScale.Of([steady, wild]);
        Assert.Equal((0.6 - 0.072, 1.2 + 0.072), (scale.Lowest, scale.Highest), new Close());
        Assert.Equal((2000 * 0.528, 2000 * 1.272), scale.Of(steady), new Close());
        Assert.Equal((50 * 0.528, 50 * 1.272), scale.Of(wild), new Close());
        Assert.Equal("The charts of every figure all span 53 to 127 % of their median.", scale.Words);
        Assert.Equal((0.98 - 0.0048 - 0.0152, 1.02 + 0.0048 + 0.0152), (RunsScale.Of([Metric(100, 98, 102)]).Lowest, RunsScale.Of([Metric(100, 98, 102)]).Highest), new Close()); // at least 2 %
    }

    [Fact]
    public void Draw_TheSameShareOfTheMedian_LiesAtTheSameHeight()
    {
        ReportMetric large = Metric(2000, 1900, 2100), small = Metric(20, 19, 21), other = Metric(7, 3, 9);
        var scale = RunsScale.Of([large, small, other]);
        double[] heights = Heights(RunsChart.Draw(large, scale));
        Assert.Equal(3, heights.Length);
        Assert.Equal(heights, Heights(RunsChart.Draw(small, scale)));
        Assert.NotEqual(heights, Heights(RunsChart.Draw(small, RunsScale.Of([small]))));

        // Evenly: 5 % up is as far as 5 % down.
        Assert.Equal(heights[0] - heights[1], heights[1] - heights[2], 0.2);
        Assert.True(heights[0] > heights[1]);
    }

    [Fact]
    public void Draw_AFigureThatDoesNotCount_NeverWidensTheScaleAndIsShownAtItsEdge()
    {
        ReportMetric plain = Metric(2000, 1900, 2100);
        ReportMetric cached = plain with { Points = [.. plain.Points, Point(350_538, PointState.Invalid)] };
        var scale = RunsScale.Of([cached]);
        Assert.Equal(RunsScale.Of([plain]), scale);
        Assert.Contains("beyond the edge", RunsChart.LegendOf(cached, scale), StringComparison.Ordinal);
        Assert.DoesNotContain("beyond the edge", RunsChart.LegendOf(plain, scale), StringComparison.Ordinal);
        Assert.Equal(1, Triangles(RunsChart.Draw(cached, scale)));
        Assert.Equal(0, Triangles(RunsChart.Draw(plain, scale)));
    }

    private static ReportMetric Metric(double median, double low, double high) => ReportModels.Metric(new Random(1), "randomRead", "Random read", "IOPS", median, 1) with
    {
        Median = Figure.Of(median, 2), Low = Figure.Of(low, 2), High = Figure.Of(high, 2), ByRun = [], Changes = [],
        Points = [Point(low, PointState.Counted), Point(median, PointState.Counted), Point(high, PointState.Counted)],
    };

    private static ReportPoint Point(double value, PointState state) => new(Figure.Of(value, 2), "north-mast", "2031-03-13 22:10", state, "");

    /// <summary>Where the circles of figures that count are, from the left.</summary>
    private static double[] Heights(string svg) =>
        [.. Circles().Matches(svg).Select(m => double.Parse(m.Groups[1].Value, System.Globalization.CultureInfo.InvariantCulture))];

    private static int Triangles(string svg) => Pointed().Count(svg);

    [GeneratedRegex("<circle[^>]* cy=\"?([0-9.]+)")]
    private static partial Regex Circles();

    [GeneratedRegex("<path d=\"M[0-9. ]+L[0-9. ]+L[0-9. ]+z\"")]
    private static partial Regex Pointed();

    private sealed class Close : IEqualityComparer<(double, double)>
    {
        public bool Equals((double, double) x, (double, double) y) => Math.Abs(x.Item1 - y.Item1) < 1e-9 && Math.Abs(x.Item2 - y.Item2) < 1e-9;

        public int GetHashCode((double, double) obj) => 0;
    }
}
