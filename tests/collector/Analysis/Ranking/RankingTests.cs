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
        Assert.Equal(table.Cards.Where(c => dune.Specimens.Contains(c.Name)).Average(c => Math.Log(c.Composite)), Math.Log(dune.Composite), 12);
        Assert.Null(table.Products[1].SpecimenSpread);
        Assert.NotNull(dune.SpecimenSpread);
    }

    [Fact]
    public void Products_RelabelledSpecimen_IsLeftOutWithALineThatSaysSo()
    {
        MasterData data = new SyntheticLaboratory
        {
            Cards = 6,
            ClaimOf = c => new Claim { Tag = SyntheticLaboratory.Tag(c), Maker = "Ostervane", Product = c < 3 ? "Dune" : "Bay", LabelGigabytes = 32, Price = 10 + c, Currency = "EUR" },
            Effect = d => d.Card switch { 0 => 0.2, < 3 => 1.2, _ => 0.9 },
        }.Build();
        AnalysisResult before = Analyser.Run(data, UseProfile.SystemDisk);
        Assert.Equal("Ostervane Bay 32 GB", before.Rankings[0].Products[0].Text); // nobody knows yet
        RankingTable table = Analyser.ByVerdict(data, before, new HashSet<string> { "T0000" }).Rankings[0];
        RankedProduct dune = table.Products[0];
        Assert.Equal(("Ostervane Dune 32 GB", 1, 1), (dune.Text, dune.Best, dune.Worst));
        Assert.Equal("2 of 3 bought count: T0000 is not as claimed", dune.SpecimensText);
        Assert.DoesNotContain(table.Prices, p => p.Name == "T0000");
        RankedProduct none = Analyser.ByVerdict(data, before, new HashSet<string> { "T0000", "T0001", "T0002" }).Rankings[0].Products[^1];
        Assert.Equal(("Ostervane Dune 32 GB", 0, "0 of 3 bought count: T0000, T0001, T0002 are not as claimed"), (none.Text, none.Best, none.SpecimensText));
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
    public void ProductPrices_LookAtVerdictsAndBeatOnlyWhereEveryPriceIsNoHigher()
    {
        // Dune is fast and cheap by its one relabelled specimen only; Bay is slow; Cliff costs as much as Dune's dearest.
        decimal?[] prices = [1, 10, 12, 9, 11, 12, 14, null, null];
        MasterData data = new SyntheticLaboratory
        {
            Cards = 9, Specimens = 0, Noise = 0.01,
            ClaimOf = c => new Claim
            {
                Tag = SyntheticLaboratory.Tag(c), Product = c < 3 ? "Dune" : c < 5 ? "Bay" : c < 7 ? "Cliff" : "Moor", Price = prices[c], Currency = prices[c] is null ? null : "EUR",
            },
            Effect = d => d.Card switch { 0 => 1.4, < 3 => 1.2, < 5 => 0.9, < 7 => 0.8, _ => 1.3 },
        }.Build();
        AnalysisResult before = Analyser.Run(data, UseProfile.SystemDisk);
        IReadOnlyList<PricedProduct> all = before.Rankings[0].ProductPrices;
        Assert.Equal(("Dune", 1m, 12m, 3), (all[0].Text, all[0].Lowest, all[0].Highest, all[0].Specimens));
        IReadOnlyList<PricedProduct> known = Analyser.ByVerdict(data, before, new HashSet<string> { "T0000" }).Rankings[0].ProductPrices;
        Assert.Equal(["Bay", "Dune", "Cliff"], known.Select(p => p.Text)); // Moor has no price: unknown is not 0
        Assert.Equal([true, true, false], known.Select(p => p.OnFront)); // Bay is slower than Dune, but one Dune cost more
        Assert.Equal(["Bay", "Dune"], known[2].BeatenBy.Order());
        Assert.Equal((10m, 12m, 2), (known[1].Lowest, known[1].Highest, known[1].Specimens));
        Assert.DoesNotContain(Analyser.ByVerdict(data, before, new HashSet<string> { "T0000", "T0001", "T0002" }).Rankings[0].ProductPrices, p => p.Text == "Dune");
    }

    [Fact]
    public void Separations_CloseAndFarPairs_SayWhatItTakes()
    {
        var laboratory = new SyntheticLaboratory { Cards = 6, Specimens = 0, Noise = 0.03, Seed = 2, Effect = d => d.Card switch { 0 => 1, 1 => 0.97, 2 => 0.5, 3 => 0.25, 4 => 0.12, _ => 0.06 } };
        RankingTable table = Analyser.Run(laboratory.Build(), UseProfile.SystemDisk).Rankings[0];
        PairSeparation pair = Assert.Single(table.Separations);
        Assert.Equal(new HashSet<string> { "T0000", "T0001" }, [pair.Better, pair.Worse]);
        Assert.True(pair is { MoreOnBetter: > 0, MoreOnWorse: > 0, Board: "board-a", IsReachable: true, IsLinking: false });

        // As the model has it: with so many more runs the two would just be told apart, with one fewer not.
        RankOrder order = table.Order!;
        int better = 0, worse = 1;
        Assert.True(order.Difference(better, worse, pair.MoreOnBetter, pair.MoreOnWorse).IsSure);
        Assert.False(order.Difference(better, worse, pair.MoreOnBetter - 1, pair.MoreOnWorse - 1).IsSure);
    }

    /// <summary>What Games and Howell's comparison says of each pair by itself, without what makes the ranks of a large laboratory quick.</summary>
    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    [InlineData(3)]
    public void Ranks_ManyCards_AreWhatTheComparisonOfEachPairSays(int seed)
    {
        var laboratory = new SyntheticLaboratory { Cards = 40, Boards = 3, RunsPerCard = 6, Seed = seed, Specimens = 0.1, BoardOf = (card, run, boards) => (card + run / 2) % boards };
        RankingTable table = Analyser.Run(laboratory.Build(), UseProfile.SystemDisk).Rankings[0];
        RankOrder order = table.Order!;
        int told = 0, open = 0;
        for (int one = 0; one < table.Cards.Count; one++)
        {
            int better = 0, worse = 0;
            for (int other = 0; other < table.Cards.Count; other++)
            {
                better += IsBetter(other, one) ? 1 : 0;
                worse += IsBetter(one, other) ? 1 : 0;
                Assert.Equal(IsBetter(one, other), order.IsSurelyBetter(one, other));
            }

            Assert.Equal((1 + better, table.Cards.Count - worse), (table.Cards[one].Best, table.Cards[one].Worst));
            (told, open) = (told + better, open + table.Cards.Count - 1 - better - worse);
        }

        Assert.True(told > 50 && open > 50, $"{told} pairs are told apart, {open} are not: this asks nothing");

        bool IsBetter(int one, int other) => one != other && (order.Cards[one].Floors, order.Cards[other].Floors) switch
        {
            (FloorState.Pass, FloorState.Fail) => true,
            (FloorState.Pass, _) or (FloorState.Fail, FloorState.Fail) or (FloorState.Undecided, FloorState.Fail) => order.Difference(one, other).IsSure,
            _ => false,
        };
    }

    [Fact]
    public void Parts_BoardsThatNoCardLinks_KeepTheirOrderOpenAndAskForALink()
    {
        // Board b is 8 % slow, each card was on one board only: equal cards must not be ranked.
        MasterData data = new SyntheticLaboratory
        {
            Cards = 12, Boards = 2, RunsPerCard = 8, Specimens = 0, Noise = 0.01, BoardOf = (card, _, _) => card % 2, Effect = d => d.Board == 1 ? 0.92 : 1,
        }.Build();
        RankingTable apart = Analyser.Run(data, UseProfile.SystemDisk).Rankings[0];
        Assert.Equal((2, 2), (apart.Parts, apart.Boards.Count));
        Assert.All(apart.Cards, c => Assert.True(c is { Best: 1, Worst: 12 }));
        Assert.Single(apart.Links);
        Assert.Contains("no order is known", apart.Statement);
        Assert.Contains(apart.Separations, s => s.IsLinking);

        // Linked, the slow board is taken out.
        MasterData linked = new SyntheticLaboratory
        {
            Cards = 12, Boards = 2, RunsPerCard = 8, Specimens = 0, Noise = 0.01, Effect = d => d.Board == 1 ? 0.92 : 1,
            BoardOf = (card, run, _) => card < 6 ? (card + run) % 2 : card % 2,
        }.Build();
        RankingTable one = Analyser.Run(linked, UseProfile.SystemDisk).Rankings[0];
        Assert.Equal(1, one.Parts);
        Assert.All(one.Cards, c => Assert.InRange(c.Composite / one.Cards[0].Composite, 0.96, 1));
        Assert.Contains("12 cards on 2 boards, all linked", one.Statement);
    }

    [Fact]
    public void OneRun_TakesTheLaboratorysVarianceOrSaysNothing()
    {
        // Five cards with several runs say how far a run scatters; four do not.
        RankingTable WithOthers(int others) => Analyser.Run(Without(new SyntheticLaboratory
        {
            Cards = others + 1, RunsPerCard = 6, Specimens = 0, Noise = 0.02, Effect = d => d.Card == 0 ? 1.4 : 1 - 0.001 * d.Card,
        }.Build()), UseProfile.SystemDisk).Rankings[0];
        static MasterData Without(MasterData data) => data with { Runs = [.. data.Runs.GroupBy(r => r.Opened.Tag == "T0000" ? r.Opened.Tag : r.Opened.RunId.ToString()).Select(g => g.First())] };
        RankedCard known = WithOthers(5).Cards.Single(c => c.Name == "T0000"), unknown = WithOthers(4).Cards.Single(c => c.Name == "T0000");
        Assert.True(known is { Runs: 1, IsProvisional: true, Best: 1, Worst: 1, HasInterval: true });
        Assert.True(unknown is { Runs: 1, IsProvisional: true, Best: 1, Worst: 5, HasInterval: false });
    }

    [Fact]
    public void RunsOfOneNight_CountOnce()
    {
        // Sixteen runs in one night and four runs in four nights know a card as well as one and four.
        RankedCard Of(int runs, int perNight) => Analyser.Run(new SyntheticLaboratory { Cards = 6, RunsPerCard = runs, RunsPerNight = perNight }.Build(), UseProfile.SystemDisk).Rankings[0].Cards[0];
        RankedCard night = Of(16, 16), nights = Of(4, 1);
        Assert.True(night is { Runs: 16, Nights: 1, IsProvisional: true, HasInterval: false, Best: 1, Worst: 6 });
        Assert.True(nights is { Runs: 4, Nights: 4, IsProvisional: false, HasInterval: true });
    }

    [Fact]
    public void Composite_HasNoCap_ButWhatTheProfileCallsEnough()
    {
        // 50, 70 and 95 MB/s: told apart by the recorder profile, equal where 45 is enough.
        MasterData data = new SyntheticLaboratory
        {
            Cards = 6, Specimens = 0, Noise = 0.01, Touch = (_, t) => t with { Before = t.Before with { BusMode = null }, After = t.After with { BusMode = null } },
            Trials = [(TrialKind.SequentialWrite, 95, TrialRole.Measured), (TrialKind.SequentialRead, 60, TrialRole.Measured)],
            Effect = d => d.Kind == TrialKind.SequentialRead ? 1 : d.Card switch { 0 => 1, 1 => 70 / 95.0, 2 => 50 / 95.0, _ => 0.2 },
        }.Build();
        RankingTable open = Analyser.Run(data, UseProfile.Recorder).Rankings[0];
        Assert.Equal([(1, 1), (2, 2), (3, 3)], open.Cards.Take(3).Select(c => (c.Best, c.Worst)));
        var enough = new UseProfile("camera", [new(TrialKind.SequentialWrite, 0.8, 10, Enough: 45), new(TrialKind.SequentialRead, 0.2, 10)]);
        RankingTable capped = Analyser.Run(data, enough).Rankings[0];
        Assert.All(capped.Cards.Take(3), c => Assert.Equal((1, 3), (c.Best, c.Worst)));
        Assert.Equal(["T0000", "T0001", "T0002"], Assert.Single(capped.Enough).Cards.Order());
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
