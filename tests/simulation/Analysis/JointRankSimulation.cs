using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Analysis.Ranking;
using Cardassay.Collector.Analysis.Statistics;
using Cardassay.Fixtures;
using MathNet.Numerics.Distributions;
using MathNet.Numerics.Random;
using Xunit.Abstractions;

namespace Cardassay.Simulation.Tests.Analysis;

/// <summary>Do all rank intervals of a table hold together in at least 95 % of laboratories?</summary>
public class JointRankSimulation(ITestOutputHelper output)
{
    [Theory]
    [InlineData(5)]
    [InlineData(15)]
    [InlineData(50)]
    public void RankIntervals_ThousandLaboratories_HoldTogether(int cards)
    {
        const int Laboratories = 1000;
        var random = new MersenneTwister(cards, threadSafe: false);
        var normal = new Normal(0, 1, random);
        int n = RankIntervals.LeastRuns(cards), held = 0;
        double width = 0;
        for (int i = 0; i < Laboratories; i++)
        {
            // A third of the cards tie exactly, the others lie 1 % apart: the hardest case for naive intervals.
            double[] truth = [.. Enumerable.Range(0, cards).Select(c => c % 3 == 0 ? 100 : 100 + c - cards / 2.0)];
            var intervals = new (double, double)[cards];
            for (int c = 0; c < cards; c++)
            {
                double spread = 0.01 + 0.05 * random.NextDouble();
                double[] values = [.. Enumerable.Range(0, n).Select(_ => truth[c] * Math.Exp(spread * normal.Sample()))];
                MedianInterval interval = MedianInterval.Of(values, RankIntervals.LevelFor(cards));
                intervals[c] = (interval.Low, interval.High);
            }

            RankInterval[] ranks = RankIntervals.Of(intervals);
            held += Holds(truth, [.. ranks.Select(r => (r.Best, r.Worst))]) ? 1 : 0;
            width += ranks.Average(r => r.Worst - r.Best);
        }

        output.WriteLine($"K = {cards,2}, n = {n,2}: all ranks hold in {held / 10.0:0.0} % of {Laboratories} laboratories, mean width {width / Laboratories:0.0}");
        Assert.True(held >= 950 - 4 * Math.Sqrt(1000 * 0.05 * 0.95), $"held in {held}");
    }

    [Theory]
    [InlineData(5, 300)]
    [InlineData(15, 150)]
    [InlineData(50, 50)]
    public void Analyser_FloorsAndComposite_HoldTogether(int cards, int usual)
    {
        int laboratories = Scale.Of(usual, 1000), held = 0, undecided = 0;
        for (int i = 0; i < laboratories; i++)
        {
            // Every fourth card fails the floor of random write for certain, every fourth one lies 5 % around it.
            double Factor(int card) => (card % 4) switch { 0 => 0.5, 1 => 0.625 + 0.01 * (card % 7 - 3), _ => 1 + 0.01 * card };
            var laboratory = new SyntheticLaboratory
            {
                Cards = cards, RunsPerCard = RankIntervals.LeastRuns(cards), Seed = 7000 + i, Specimens = 0, Noise = 0.03,
                Effect = d => d.Kind == Trials.TrialKind.RandomWrite ? Factor(d.Card) : 1,
            };
            RankingTable table = Analyser.Run(laboratory.Build(), UseProfile.SystemDisk).Rankings[0];
            double[] truth =
            [
                .. Enumerable.Range(0, cards).Select(c =>
                    UseProfile.SystemDisk.Composite([2400, 800 * Factor(c), 32, 21]) - (800 * Factor(c) >= 500 ? 0 : 1000)),
            ];
            var byName = table.Cards.ToDictionary(c => c.Name);
            undecided += table.Cards.Count(c => c.Floors == FloorState.Undecided);
            held += Holds(truth, [.. Enumerable.Range(0, cards).Select(c => byName[SyntheticLaboratory.Tag(c)]).Select(c => (c.Best, c.Worst))]) ? 1 : 0;
        }

        output.WriteLine($"K = {cards,2}, floors: all ranks hold in {100.0 * held / laboratories:0.0} % of {laboratories} laboratories, undecided cards each {(double)undecided / laboratories:0.0}");
        Assert.True(held >= 0.95 * laboratories - 4 * Math.Sqrt(laboratories * 0.05 * 0.95), $"held in {held} of {laboratories}");
    }

    private static bool Holds(double[] truth, (int Best, int Worst)[] ranks)
    {
        for (int k = 0; k < truth.Length; k++)
        {
            int better = truth.Count(t => t > truth[k] + 1e-9), tied = truth.Count(t => Math.Abs(t - truth[k]) <= 1e-9);
            if (ranks[k].Best > better + tied || ranks[k].Worst < 1 + better)
            {
                return false;
            }
        }

        return true;
    }
}
