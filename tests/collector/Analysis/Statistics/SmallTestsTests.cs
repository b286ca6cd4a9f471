using Cardassay.Collector.Analysis.Statistics;

namespace Cardassay.Collector.Tests.Analysis.Statistics;

public class SmallTestsTests
{
    [Fact]
    public void Holm_Example_AgreesWithR()
    {
        // R 4.2: p.adjust(c(.01, .02, .03, .04, .05), "holm").
        double[] adjusted = Holm.Adjust([.03, .01, .05, .02, .04]);
        double[] expected = [.09, .05, .09, .08, .09];
        for (int i = 0; i < 5; i++)
        {
            Assert.Equal(expected[i], adjusted[i], 12);
        }
    }

    // Recomputed with R 4.2: least count with binomial tail below 1 % at p = 1/3.
    [Theory]
    [InlineData(15, 10)]
    [InlineData(45, 24)]
    [InlineData(90, 42)]
    public void FirstExtreme_SequencesOfThree_IsRealFromTheTableOn(int sequences, int least)
    {
        int[] lengths = [.. Enumerable.Repeat(3, sequences)];
        Assert.True(FirstExtreme.P(lengths, least) <= 0.01);
        Assert.True(FirstExtreme.P(lengths, least - 1) > 0.01);
    }

    // SciPy 1.10.1: scipy.stats.levene(a, b, center='median').
    [Theory]
    [InlineData(new[] { 1.006, .996, .998, 1, .992, .993, 1.002, .999, .994, 1 }, new[] { .998, 1.006, 1, 1.002, .997, .998, .996, 1, 1.006, .988 }, 0.8271469417876554)]
    [InlineData(new[] { 9.1, -3.2, 14.8, -11.7, 6, -8.8, 2.1 }, new[] { .3, -.5, 1.1, -.9, .4, .2, -.7, .6 }, 0.0015123869803277588)]
    public void SpreadTest_TwoGroups_AgreesWithSciPy(double[] a, double[] b, double expected) => Assert.Equal(expected, SpreadTest.P(a, b), 10);

    [Fact]
    public void FirstExtreme_MixedLengths_AreExact() => Assert.Equal(1 / 12.0, FirstExtreme.P([3, 4], 2), 12);

    // Exact bootstrap distribution of the median over the order statistics, recomputed with R 4.2.
    [Theory]
    [InlineData(3, new[] { .2593, .4815, .2593 })]
    [InlineData(5, new[] { .0579, .2595, .3651, .2595, .0579 })]
    public void Resample_Median_HitsTheExactDistribution(int n, double[] expected)
    {
        double[] values = [.. Enumerable.Range(0, n).Select(i => (double)i)];
        double[] drawn = BcaBootstrap.Resample(values, v => Summary.MedianOf(v), 40_000, 9);
        for (int i = 0; i < n; i++)
        {
            Assert.Equal(expected[i], drawn.Count(d => d == i) / 40_000.0, 0.01); // 4 standard errors
        }
    }

    [Fact]
    public void Bca_MeanOfNormals_IsCloseToStudentsInterval()
    {
        double[] values = [.. NistData.Michelso.Take(40)];
        BcaBootstrap bca = BcaBootstrap.Of(values, v => Summary.MeanOf(v), 0.95, 9999, 3)!.Value;
        double half = 2.0227 * Summary.StandardDeviation(values) / Math.Sqrt(40); // t quantile for 39 degrees, R 4.2
        Assert.Equal(Summary.MeanOf(values) - half, bca.Low, half * 0.15);
        Assert.Equal(Summary.MeanOf(values) + half, bca.High, half * 0.15);
        Assert.Null(BcaBootstrap.Of(values[..9], v => v.Average()));
    }

    [Fact]
    public void Dirichlet_Draws_AddUpAndKeepTheirMeans()
    {
        double[][] draws = DirichletWeights.Draw([0.5, 0.3, 0.1, 0.1], 5000, 1);
        Assert.All(draws, d => Assert.Equal(1, d.Sum(), 9));
        Assert.Equal(0.5, draws.Average(d => d[0]), 0.01);
        double variance = draws.Average(d => (d[0] - 0.5) * (d[0] - 0.5));
        Assert.Equal(0.25 / 21, variance, 0.001); // w (1 - w) / (concentration + 1)
        Assert.Equal(DirichletWeights.Draw([0.5, 0.5], 3, 8), DirichletWeights.Draw([0.5, 0.5], 3, 8));
    }
}
