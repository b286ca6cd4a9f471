using Cardassay.Collector.Analysis.Statistics;

namespace Cardassay.Collector.Tests.Analysis.Statistics;

public class OutliersTests
{
    private static readonly double[] Rosner =
    [
        -0.25, 0.68, 0.94, 1.15, 1.20, 1.26, 1.26, 1.34, 1.38, 1.43, 1.49, 1.49, 1.55, 1.56, 1.58, 1.65, 1.69, 1.70, 1.76, 1.77, 1.81, 1.91,
        1.94, 1.96, 1.99, 2.06, 2.09, 2.10, 2.14, 2.15, 2.23, 2.24, 2.26, 2.35, 2.37, 2.40, 2.47, 2.54, 2.62, 2.64, 2.90, 2.92, 2.92, 2.93,
        3.21, 3.26, 3.30, 3.59, 3.68, 4.30, 4.64, 5.34, 5.42, 6.01,
    ];

    [Fact]
    public void GeneralisedEsd_HandbookExample_FindsThree()
    {
        // NIST/SEMATECH e-Handbook 1.3.5.17.3, Rosner's data, n = 54, alpha 0.05.
        EsdResult result = Outliers.GeneralisedEsd(Rosner, 10);
        double[] r = [3.119, 2.943, 3.179], lambda = [3.159, 3.151, 3.144];
        for (int i = 0; i < 3; i++)
        {
            Assert.Equal(r[i], result.R[i], 0.0006);
            Assert.Equal(lambda[i], result.Lambda[i], 0.0006);
        }

        Assert.Equal([53, 52, 51], result.Outliers);
    }

    [Fact]
    public void Grubbs_UraniumExample_AgreesWithHandbook()
    {
        // NIST/SEMATECH e-Handbook 1.3.5.17.1: G 2.468765, one-sided critical value 2.031652 at 5 %.
        double[] uranium = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57];
        EsdResult result = Outliers.GeneralisedEsd(uranium, 1);
        Assert.Equal(2.468765, result.R[0], 1e-5); // the handbook prints 2.4687, from unrounded data
        Assert.Equal(2.031652, Outliers.Critical(8, 0.05), 1e-6);
        Assert.True(Outliers.GrubbsP(uranium) < 0.001);
        Assert.True(Outliers.GrubbsP([1, 2, 3, 4, 5, 6]) > 0.5);
    }

    [Fact]
    public void ByModifiedZ_SevenValues_FlagsTheFarOne()
    {
        Assert.Equal([3], Outliers.ByModifiedZ([100, 101, 99, 60, 100.5, 99.5, 100.2]));
        Assert.Empty(Outliers.ByModifiedZ([100, 101, 99, 60, 100.5, 99.5])); // below 7
        Assert.Empty(Outliers.ByModifiedZ([5, 5, 5, 5, 5, 5, 9])); // MAD 0
    }
}
