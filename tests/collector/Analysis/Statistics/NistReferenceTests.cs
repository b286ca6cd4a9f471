using Cardassay.Collector.Analysis.Statistics;
using MathNet.Numerics.Statistics;

namespace Cardassay.Collector.Tests.Analysis.Statistics;

public class NistReferenceTests
{
    // Certified values: NIST StRD, univariate summary statistics.
    [Theory]
    [InlineData("Lottery", 518.958715596330, 291.699727470969, -0.120948622967393)]
    [InlineData("Michelso", 299.852400000000, 0.0790105478190518, 0.535199668621283)]
    public void Univariate_CertifiedDataSet_AgreesToTenDigits(string name, double mean, double sd, double lagOne)
    {
        double[] values = name == "Lottery" ? NistData.Lottery : NistData.Michelso;
        Assert.Equal(mean, Summary.MeanOf(values), mean * 1e-12);
        Assert.Equal(sd, Summary.StandardDeviation(values), sd * 1e-10);
        Assert.Equal(lagOne, SerialCorrelation.LagOne(values)!.Value, 1e-10);
        Assert.Equal(values.Median(), Summary.Of(values).Median, 12); // second opinion: MathNet
    }

    [Fact]
    public void VarianceComponents_SiRstv_AgreeWithCertifiedAnova()
    {
        // Certified F and residual sd: NIST StRD SiRstv. s_L, r, R recomputed with R 4.2 by the formulas of ISO 5725-2.
        VarianceComponents components = VarianceComponents.Of(NistData.SiRstv)!;
        Assert.Equal(1.18046237440255, components.F, 1e-9);
        Assert.Equal(0.104076068334656, components.WithinSd, 1e-10);
        Assert.Equal(0.0197724, components.BetweenSd, 1e-6);
        Assert.Equal(0.291413, components.Repeatability, 1e-6);
        Assert.Equal(0.296625, components.Reproducibility, 1e-6);
    }

    [Fact]
    public void VarianceComponents_OneGroupOrSingles_AreNotGiven()
    {
        Assert.Null(VarianceComponents.Of([[1, 2, 3]]));
        Assert.Null(VarianceComponents.Of([[1], [2]]));
    }

    [Fact]
    public void MathNetQuantiles_HyndmanFanTypes_AgreeWithR()
    {
        // R 4.2: quantile(c(15, 20, 35, 40, 50), 0.4, type = 1:9).
        double[] expected = [20, 27.5, 20, 20, 27.5, 26, 29, 27, 27.125];
        for (int type = 1; type <= 9; type++)
        {
            double[] data = [15, 20, 35, 40, 50];
            Assert.Equal(expected[type - 1], data.QuantileCustom(0.4, (QuantileDefinition)type), 12);
        }
    }
}
