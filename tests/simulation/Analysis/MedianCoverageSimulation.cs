using Cardassay.Collector.Analysis.Statistics;
using MathNet.Numerics.Distributions;
using MathNet.Numerics.Random;
using Xunit.Abstractions;

namespace Cardassay.Simulation.Tests.Analysis;

/// <summary>Does the interval published after stopping on sight cover the true median in at least 95 % of cases?</summary>
public class MedianCoverageSimulation(ITestOutputHelper output)
{
    private static readonly int[] Looks = [7, 9, 12, 17, 23, 30];

    public static TheoryData<string> Noises => ["normal 2 %", "normal 5 %", "normal 10 %", "lognormal 25 %", "5 % + stalls", "exponential tail"];

    [Theory]
    [MemberData(nameof(Noises))]
    public void PublishedInterval_AfterStoppingOnSight_CoversNinetyFivePercent(string noise)
    {
        int laboratories = Scale.Of(20_000, 200_000);
        var random = new MersenneTwister(20260301, threadSafe: false);
        (Func<double> draw, double median) = Source(noise, random);
        int covered = 0, settled = 0, coveredNominal = 0;
        long values = 0;
        for (int i = 0; i < laboratories; i++)
        {
            (MedianInterval published, _) = Repeat(draw, MedianInterval.PublishedLevel);
            covered += published.Low <= median && median <= published.High ? 1 : 0;
            settled += published.RelativeHalfWidth <= 0.05 ? 1 : 0;
            values += published.N;
            (MedianInterval nominal, _) = Repeat(draw, MedianInterval.NominalLevel);
            coveredNominal += nominal.Low <= median && median <= nominal.High ? 1 : 0;
        }

        double share = (double)covered / laboratories;
        output.WriteLine($"{noise,-18} covered {100 * share:0.00} %  (95 % interval instead: {100.0 * coveredNominal / laboratories:0.00} %)  settled {100.0 * settled / laboratories:0.0} %  mean n {(double)values / laboratories:0.0}  of {laboratories}");
        Assert.True(share >= 0.95 - 4 * Math.Sqrt(0.95 * 0.05 / laboratories), $"covered {share}");
    }

    private static (MedianInterval, int) Repeat(Func<double> draw, double level)
    {
        var values = new List<double>(30);
        foreach (int look in Looks)
        {
            while (values.Count < look)
            {
                values.Add(draw());
            }

            MedianInterval interval = MedianInterval.Of(values, level);
            if (interval.RelativeHalfWidth <= 0.05)
            {
                return (interval, look);
            }
        }

        return (MedianInterval.Of(values, level), values.Count);
    }

    private static (Func<double> Draw, double Median) Source(string noise, MersenneTwister random)
    {
        var normal = new Normal(0, 1, random);
        return noise switch
        {
            "normal 2 %" => (() => 100 + 2 * normal.Sample(), 100),
            "normal 5 %" => (() => 100 + 5 * normal.Sample(), 100),
            "normal 10 %" => (() => 100 + 10 * normal.Sample(), 100),
            "lognormal 25 %" => (() => 100 * Math.Exp(0.25 * normal.Sample()), 100),
            "5 % + stalls" => (() => (100 + 5 * normal.Sample()) * (random.NextDouble() < 0.15 ? 0.6 : 1), StallMedian()),
            _ => (() => 100 + 10 * Math.Log(1 - random.NextDouble()), 100 - 10 * Math.Log(2)),
        };
    }

    // Median of the mixture 0.85 N(100, 5) + 0.15 N(60, 3) by bisection on its distribution function.
    private static double StallMedian()
    {
        double low = 60, high = 100;
        for (int i = 0; i < 60; i++)
        {
            double middle = (low + high) / 2;
            bool below = 0.85 * Normal.CDF(100, 5, middle) + 0.15 * Normal.CDF(60, 3, middle) < 0.5;
            (low, high) = below ? (middle, high) : (low, middle);
        }

        return low;
    }
}
