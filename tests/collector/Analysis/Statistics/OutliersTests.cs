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

    [Theory]
    [InlineData(3, 2, 3.5)]
    [InlineData(1e6, 15, 1e6)]
    public void LaboratoryTails_QuantilesOfStudentsT_AreFoundAndShortSeriesSayNothing(double df, double least, double most)
    {
        double[] values = [.. Enumerable.Range(1, 600).Select(i => 2 * StudentQuantile.Upper(df, Math.Min((i - 0.5) / 600, 1 - (i - 0.5) / 600)) * (i <= 300 ? -1 : 1))];
        LaboratoryTails tails = LaboratoryTails.Of(values)!.Value;
        Assert.InRange(tails.Df, least, most);
        Assert.InRange(tails.Scale, 1.7, 2.1);
        Assert.Equal(1, tails.Beyond(0), 1e-12);
        Assert.True(tails.Beyond(20) > (df == 3 ? 0.001 : 0) && tails.Beyond(20) < (df == 3 ? 0.01 : 1e-6));
        Assert.Null(LaboratoryTails.Of(values.AsSpan(0, 40)));
    }

    [Theory]
    [InlineData(400)]
    [InlineData(9000)]
    public void LaboratoryTails_WithoutSome_AreThoseOfTheOthers(int count)
    {
        double[] values = [.. Enumerable.Range(0, count).Select(i => Math.Round(30 * Math.Sin(i * 1.7), 1)).Order()]; // with ties
        double[] some = [.. values.Where((_, i) => i % 7 == 0 || i > count - 20)];
        List<double> others = [.. values];
        some.ToList().ForEach(s => others.Remove(s));
        Assert.Equal(LaboratoryTails.Of(others.ToArray()), LaboratoryTails.Of(values, some));
        Assert.NotEqual(LaboratoryTails.Of(values), LaboratoryTails.Of(values, some));
    }

    // Printed tables of Student's t, common to every textbook (from memory): one-sided 0.05 % at 1, 5, 30 and infinite degrees of freedom. Cauchy's quantile is cot(pi p).
    [Theory]
    [InlineData(1, 0.0005, 636.619)]
    [InlineData(5, 0.0005, 6.869)]
    [InlineData(30, 0.0005, 3.646)]
    [InlineData(double.PositiveInfinity, 0.0005, 3.291)]
    [InlineData(1, 1e-8, 31830988.6)]
    public void StudentQuantile_OfTables_IsThatAndNeverFails(double df, double tail, double quantile)
    {
        Assert.Equal(quantile, StudentQuantile.Upper(df, tail), quantile * 2e-4);
        foreach (double anyDf in (double[])[1e-3, 0.5, 1, 2.5, 1e5, 1e7])
        {
            foreach (double anyTail in (double[])[1e-300, 1e-20, 1e-5, 0.3])
            {
                Assert.True(StudentQuantile.Upper(anyDf, anyTail) > 0);
            }
        }
    }
}
