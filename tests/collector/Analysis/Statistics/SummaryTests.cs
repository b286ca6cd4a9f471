using Cardassay.Collector.Analysis.Statistics;
using MathNet.Numerics.Statistics;

namespace Cardassay.Collector.Tests.Analysis.Statistics;

public class SummaryTests
{
    [Fact]
    public void Of_SmallSet_GivesEveryFigure()
    {
        Summary summary = Summary.Of([1, 1, 2, 2, 4, 6, 9]); // MAD 1 worked out by hand: deviations 1 1 0 0 2 4 7
        Assert.Equal((7, 2.0, 1.0, 9.0, 1.0), (summary.N, summary.Median, summary.Minimum, summary.Maximum, summary.Mad));
        Assert.Equal(Statistics_SampleCv([1, 1, 2, 2, 4, 6, 9]), summary.Cv!.Value, 12);
    }

    [Fact]
    public void Of_NumAcc4_IsExact()
    {
        // NIST StRD NumAcc4: 1,001 values 10000000.2 then alternately 10000000.1 and 10000000.3; certified mean 10000000.2, sd 0.1.
        double[] values = [10000000.2, .. Enumerable.Range(0, 1000).Select(i => i % 2 == 0 ? 10000000.1 : 10000000.3)];
        Summary summary = Summary.Of(values);
        Assert.Equal(10000000.2, summary.Mean, 8);
        Assert.Equal(0.1, Summary.StandardDeviation(values), 8);
    }

    [Fact]
    public void Of_OneValue_HasNoCv() => Assert.Null(Summary.Of([5]).Cv);

    [Fact]
    public void Of_Nothing_Throws() => Assert.Throws<ArgumentException>(() => Summary.Of([]));

    private static double Statistics_SampleCv(double[] values) => values.StandardDeviation() / values.Mean();
}
