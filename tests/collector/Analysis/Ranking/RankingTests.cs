using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Analysis.Ranking;
using Cardassay.Collector.Analysis.Statistics;
using Cardassay.Fixtures;
using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Collector.Tests.Analysis.Ranking;

public class RankingTests
{
    [Fact]
    public void FloorRanks_AnyWayTheUndecidedTurnOut_TheRankLiesInside()
    {
        // Oracle: try both outcomes of every undecided card and every corner of the intervals' order.
        var random = new Random(3);
        for (int round = 0; round < 200; round++)
        {
            (double Low, double High, FloorState State)[] cards =
            [
                .. Enumerable.Range(0, 6).Select(_ => { int l = random.Next(12); return ((double)l, (double)(l + random.Next(5)), (FloorState)random.Next(3)); }),
            ];
            (int Best, int Worst)[] ranks = FloorRanks.Of(cards);
            for (int k = 0; k < cards.Length; k++)
            {
                int surelyBetter = cards.Where((_, j) => j != k).Count(j => SurelyBetter(j, cards[k]));
                int surelyWorse = cards.Where((_, j) => j != k).Count(j => SurelyBetter(cards[k], j));
                Assert.Equal((1 + surelyBetter, cards.Length - surelyWorse), ranks[k]);
            }
        }

        static bool SurelyBetter((double Low, double High, FloorState State) a, (double Low, double High, FloorState State) b) =>
            Outcomes(a.State).All(pa => Outcomes(b.State).All(pb => pa != pb ? pa : a.Low > b.High));

        static bool[] Outcomes(FloorState state) => state switch { FloorState.Pass => [true], FloorState.Fail => [false], _ => [true, false] };
    }

    [Fact]
    public void Products_TwoSpecimens_SpanBothAndSayHowMany()
    {
        var laboratory = new SyntheticLaboratory
        {
            Cards = 5,
            ClaimOf = c => new Claim { Tag = SyntheticLaboratory.Tag(c), Maker = "Ostervane", Product = c < 2 ? "Dune" : c == 2 ? "Cliff" : "Bay", LabelGigabytes = 32 },
            Effect = d => d.Card < 2 ? 1.2 : d.Card == 2 ? 1 : 0.9,
        };
        RankingTable table = Analyser.Run(laboratory.Build(), UseProfile.SystemDisk).Rankings[0];
        Assert.Equal(["Ostervane Dune 32 GB", "Ostervane Cliff 32 GB", "Ostervane Bay 32 GB"], table.Products.Select(p => p.Text));
        Assert.Equal(["2 specimens", "one specimen", "2 specimens"], table.Products.Select(p => p.SpecimensText));
        Assert.Equal([(1, 1), (2, 2), (3, 3)], table.Products.Select(p => (p.Best, p.Worst)));
        RankedProduct dune = table.Products[0];
        Assert.Equal(table.Cards.Where(c => dune.Specimens.Contains(c.Name)).Min(c => c.Low), dune.Low);
        Assert.Null(table.Products[1].SpecimenSpread);
        Assert.NotNull(dune.SpecimenSpread);
    }

    [Fact]
    public void Prices_SurelyBetterAndNoDearer_Beats()
    {
        decimal?[] prices = [10, 8, 12, null, 5];
        var laboratory = new SyntheticLaboratory
        {
            Cards = 5,
            Specimens = 0,
            ClaimOf = c => new Claim { Tag = SyntheticLaboratory.Tag(c), Price = prices[c], Currency = "EUR", LabelGigabytes = 32, PriceDate = new(2026, 2, 1) },
            Effect = d => d.Card switch { 0 => 1, 1 => 1.2, 2 => 1.2, 4 => 0.8, _ => 1.3 },
        };
        RankingTable table = Analyser.Run(laboratory.Build(), UseProfile.SystemDisk).Rankings[0];
        Assert.Equal(["T0004", "T0001", "T0000", "T0002"], table.Prices.Select(p => p.Name)); // T0003 has no price: unknown is not 0
        Assert.Equal([true, true, false, true], table.Prices.Select(p => p.OnFront)); // T0002 costs more than its equal, which is not surely better
        Assert.Equal(["T0001"], table.Prices[2].BeatenBy);
        Assert.Equal(0.25m, table.Prices[1].PricePerGigabyte);
    }

    [Fact]
    public void Separations_CloseAndFarPairs_SayWhatItTakes()
    {
        var laboratory = new SyntheticLaboratory { Cards = 3, Specimens = 0, Noise = 0.03, Effect = d => d.Card switch { 0 => 1, 1 => 0.985, _ => 0.5 } };
        RankingTable table = Analyser.Run(laboratory.Build(), UseProfile.SystemDisk).Rankings[0];
        PairSeparation pair = Assert.Single(table.Separations);
        Assert.DoesNotContain("T0002", new[] { pair.Better, pair.Worse });
        Assert.True(pair.MoreOnBetter + pair.MoreOnWorse > 0);

        RankedCard one = table.Cards[0];
        PairSeparation equal = PairSeparations.For(one, one with { Name = "twin" }, table.LevelEach);
        Assert.False(equal.IsReachable);
    }

    [Fact]
    public void Sensitivity_SmallTable_AgreesWithDirectComputation()
    {
        UseProfile profile = UseProfile.SystemDisk;
        double[][] figures = [[3000, 400, 20, 30], [2000, 900, 40, 10], [2500, 600, 20, 20], [2500, 600, 20, 20], [1500, 300, 60, 15]];
        ((int Best, int Worst)[] ranks, double? tau) = Sensitivity.Of(profile, [.. figures.Select(f => ((IReadOnlyList<double>)f, false))], 17);
        double[] own = [.. figures.Select(f => profile.Composite(f))];
        var best = new int[5];
        var worst = new int[5];
        Array.Fill(best, 99);
        var taus = new List<double>();
        foreach (double[] weights in DirichletWeights.Draw([.. profile.Metrics.Select(m => m.Weight)], Sensitivity.Draws, 17))
        {
            double[] scores = [.. figures.Select(f => weights.Select((w, i) => w * profile.LogRatio(i, f[i])).Sum())];
            for (int k = 0; k < 5; k++)
            {
                int rank = 1 + scores.Count(s => s > scores[k]);
                (best[k], worst[k]) = (Math.Min(best[k], rank), Math.Max(worst[k], rank));
            }

            taus.Add(KendallTau.B(own, scores)!.Value);
        }

        Assert.Equal(best, ranks.Select(r => r.Best));
        Assert.Equal(worst, ranks.Select(r => r.Worst));
        Assert.Equal(taus.Order().ElementAt(50), tau!.Value, 12);
    }

    [Fact]
    public void DataLogger_RawSynchronousWrite_IsNotRanked()
    {
        (TrialKind, double, TrialRole)[] trials = [(TrialKind.SynchronousWrite, 150, TrialRole.Measured), (TrialKind.RandomWrite, 600, TrialRole.Measured), (TrialKind.RandomRead, 1500, TrialRole.Measured)];
        MasterData raw = new SyntheticLaboratory { Trials = trials }.Build();
        Assert.Empty(Analyser.Run(raw, UseProfile.DataLogger).Rankings);
        MasterData folder = raw with { Runs = [.. raw.Runs.Select(r => r with { Opened = r.Opened with { Target = TargetKind.Folder, FileSystem = "ext4" } })] };
        RankingTable table = Assert.Single(Analyser.Run(folder, UseProfile.DataLogger).Rankings);
        Assert.Contains("folder on ext4", table.Context.Text);
    }

    [Fact]
    public void Unranked_MissingMetric_IsNamed()
    {
        MasterData data = new SyntheticLaboratory { Cards = 3 }.Build();
        data = data with { Runs = [.. data.Runs.Select(r => r.Opened.Tag == "T0001" ? r with { Trials = [.. r.Trials.Where(t => t.Trial.Kind != TrialKind.RandomWrite)] } : r)] };
        UnrankedCard unranked = Assert.Single(Analyser.Run(data, UseProfile.SystemDisk).Rankings[0].Unranked);
        Assert.Equal("T0001", unranked.Name);
        Assert.Equal([TrialKind.RandomWrite], unranked.Missing);
    }
}
