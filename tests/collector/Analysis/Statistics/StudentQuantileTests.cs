using Cardassay.Collector.Analysis.Statistics;

namespace Cardassay.Collector.Tests.Analysis.Statistics;

/// <summary>Against the closed forms of one and two degrees of freedom (textbook formulas, from memory), also where the library's own search ends.</summary>
public sealed class StudentQuantileTests
{
    [Theory]
    [InlineData(0.3)]
    [InlineData(0.025)]
    [InlineData(1e-3)]
    [InlineData(1e-5)]
    [InlineData(1e-9)]
    public void Upper_OneAndTwoDegreesOfFreedom_IsTheClosedForm(double tail)
    {
        AssertClose(1 / Math.Tan(Math.PI * tail), StudentQuantile.Upper(1, tail)); // Cauchy's distribution
        AssertClose((1 - 2 * tail) / Math.Sqrt(2 * tail * (1 - tail)), StudentQuantile.Upper(2, tail));
    }

    [Fact]
    public void Upper_AnyDegreesOfFreedom_FallsWithThemAndNeverThrows()
    {
        foreach (double tail in (double[])[0.025, 1e-3, 1e-6])
        {
            double last = double.PositiveInfinity;
            for (double df = 1e-3; df < 1e8; df *= 1.1)
            {
                double t = StudentQuantile.Upper(df, tail);
                Assert.True(t > 0 && t <= last * (1 + 1e-6), $"{df} {tail}: {t} after {last}");
                last = t;
            }
        }
    }

    private static void AssertClose(double expected, double actual) => Assert.InRange(actual / expected, 1 - 1e-6, 1 + 1e-6);
}
