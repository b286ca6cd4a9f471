using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.CrossChecks;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Analysis.Ranking;
using Cardassay.Fixtures;
using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Collector.Tests.Analysis;

public class AnalyserTests
{
    [Fact]
    public void Run_CleanLaboratory_FindsNothingAndRanksEveryone()
    {
        AnalysisResult result = Run(new SyntheticLaboratory { Boards = 3 }.Build());
        Assert.All(result.Cards, c => Assert.Empty(c.Findings));
        Assert.Empty(result.LaboratoryFindings);
        RankingTable table = Assert.Single(result.Rankings);
        Assert.Equal((6, 6), (table.Cards.Count, table.FirmCards));
        Assert.All(table.Cards, c => Assert.Equal(FloorState.Pass, c.Floors));
    }

    [Fact]
    public void Run_KnownLevels_RanksGiveTheOrder()
    {
        var laboratory = new SyntheticLaboratory { Cards = 5, Specimens = 0, Noise = 0.01, Effect = d => d.Card is 1 or 3 ? 1 : d.Card == 4 ? 0.5 : 1.3 };
        RankingTable table = Run(laboratory.Build()).Rankings[0];
        Assert.Equal([(1, 2), (1, 2), (3, 4), (3, 4), (5, 5)], table.Cards.Select(c => (c.Best, c.Worst)));
        Assert.Equal([1, 1, 2, 2, 3], table.Cards.Select(c => c.Group));
        Assert.Equal("T0004", table.Cards[^1].Name);
        Assert.Equal(FloorState.Fail, table.Cards[^1].Floors);
    }

    [Fact]
    public void Run_TwoBusModes_NeverMix()
    {
        var laboratory = new SyntheticLaboratory
        {
            Touch = (d, t) => d.Card < 2 ? t with { Before = t.Before with { BusMode = "sd high-speed" }, After = t.After with { BusMode = "sd high-speed" } } : t,
            Effect = d => d.Card < 2 && d.Kind is TrialKind.SequentialRead ? 0.4 : 1,
        };
        AnalysisResult result = Run(laboratory.Build());
        Assert.Equal([4, 2], result.Rankings.Select(r => r.Cards.Count));
        Assert.All(result.Cards, c => Assert.Single(c.Metrics.Select(m => m.Key.Context).Distinct()));
    }

    [Fact]
    public void Run_UsedCard_IsRankedApartFromNewOnes()
    {
        var laboratory = new SyntheticLaboratory
        {
            ClaimOf = c => new Claim { Tag = SyntheticLaboratory.Tag(c), Condition = c == 0 ? CardCondition.Used : CardCondition.New },
        };
        AnalysisResult result = Run(laboratory.Build());
        Assert.Equal([5, 1], result.Rankings.Select(r => r.Cards.Count));
    }

    [Fact]
    public void Run_SpoiltTrials_AreSetAsideWithTheirRule()
    {
        var rules = new Dictionary<int, SetAsideRule>
        {
            [0] = SetAsideRule.UnderVoltage, [1] = SetAsideRule.Throttled, [2] = SetAsideRule.LinkErrors, [3] = SetAsideRule.Invalid,
            [4] = SetAsideRule.ContentUnknown, [5] = SetAsideRule.AboveBusCeiling, [6] = SetAsideRule.OtherTraffic, [7] = SetAsideRule.NoFigure,
        };
        var laboratory = new SyntheticLaboratory
        {
            Cards = 1,
            RunsPerCard = 16,
            Touch = (d, t) => d.Kind != TrialKind.SequentialRead ? t : d.Run switch
            {
                0 => t with { During = [t.Before with { UnderVoltage = true }] },
                1 => t with { After = t.After with { Throttled = true } },
                2 => t with { After = t.After with { LinkErrors = 3 } },
                3 => t with { Valid = false, Reasons = ["The card was busy."] },
                4 => t with { ContentKnown = false },
                5 => t with { ElapsedNs = t.ElapsedNs / 10 },
                6 => t with { Before = t.Before with { SectorsRead = 0, SectorsWritten = 0 }, After = t.After with { SectorsRead = t.Bytes / 256, SectorsWritten = 0 } },
                7 => t with { Operations = 0 },
                _ => t,
            },
        };
        MasterData data = laboratory.Build();
        CardResult card = Run(data).Cards[0];
        MetricSummary metric = card.Metrics.Single(m => m.Kind == TrialKind.SequentialRead);
        Assert.Equal(8, metric.N);
        Assert.Equal(rules.Values.Order(), metric.SetAside.Select(a => a.Rule).Order());
        Assert.Contains(metric.SetAside, a => a.Reasons.Contains("The card was busy."));
        Assert.Equal(4, card.Findings.Count(f => f.Finding.Id == CheckIds.SpoiltConditions));
        Assert.Single(card.Findings, f => f.Finding.Id == CheckIds.AboveBusCeiling);
        Assert.All(card.Runs.Take(8), r => Assert.Equal((3, 1), (r.Pooled, r.SetAside.Count)));

        AnalysisResult withAll = Analyser.Run(data, UseProfile.SystemDisk, new AnalysisOptions { WithAll = true });
        Assert.Equal(15, withAll.Cards[0].Metrics.Single(m => m.Kind == TrialKind.SequentialRead).N); // all but the one without a figure
    }

    [Fact]
    public void Run_WarmUpAndClosing_AreShownAndNotPooled()
    {
        var laboratory = new SyntheticLaboratory
        {
            Cards = 1,
            Trials = [(TrialKind.RandomRead, 900, TrialRole.WarmUp), (TrialKind.RandomRead, 2400, TrialRole.Measured), (TrialKind.RandomRead, 2100, TrialRole.Closing)],
        };
        AnalysisResult result = Run(laboratory.Build());
        MetricSummary metric = Assert.Single(result.Cards[0].Metrics);
        Assert.Equal((12, 24), (metric.N, metric.SetAside.Count));
        CardFinding finding = Assert.Single(result.Cards[0].Findings);
        Assert.Equal(CheckIds.ChangedDuringRun, finding.Finding.Id); // 12.5 % lower at the end of every run
    }

    [Fact]
    public void Run_SameRunTwice_CountsOnce()
    {
        MasterData data = new SyntheticLaboratory { Cards = 1 }.Build();
        RunRecord copy = data.Runs[3] with { Key = new RecordKey(new string('f', 32), 1), Trials = [.. data.Runs[3].Trials.Select(t => t with { Key = new RecordKey(new string('f', 32), 2 + t.Trial.Index) })] };
        CardResult card = Run(data with { Runs = [.. data.Runs, copy] }).Cards[0];
        Assert.All(card.Metrics, m => Assert.Equal(12, m.N));
        Assert.Single(card.Runs, r => r.Rule == SetAsideRule.DuplicateRun);
        Assert.Single(card.Findings, f => f.Finding.Id == CheckIds.DuplicateRun);
    }

    [Fact]
    public void Run_ClaimStatements_NewestNonNullWins()
    {
        MasterData data = new SyntheticLaboratory { Cards = 1 }.Build();
        data = data with
        {
            Claims =
            [
                new(DateTimeOffset.UnixEpoch, new Claim { Tag = "T0000", Maker = "Halvorn", Product = "Terrace", Price = 12, Currency = "EUR", PriceDate = new(2026, 1, 1), IsReference = true }),
                new(DateTimeOffset.UnixEpoch, new Claim { Tag = "T0000", Product = "Terrace Plus", Price = 9 }),
            ],
        };
        Claim claim = Run(data).Cards[0].Claim!;
        Assert.Equal(("Halvorn", "Terrace Plus", 9m, "EUR", (DateOnly?)null, true), (claim.Maker, claim.Product, claim.Price, claim.Currency, claim.PriceDate, claim.IsReference));
    }

    [Fact]
    public void Run_RunWithoutTag_IsKeyedByIdentity()
    {
        MasterData data = new SyntheticLaboratory { Cards = 1, ClaimOf = _ => null }.Build();
        data = data with { Runs = [.. data.Runs.Select(r => r with { Opened = r.Opened with { Tag = null } })] };
        CardResult card = Assert.Single(Run(data).Cards);
        Assert.Equal(("untagged identity-T0000", null), (card.Name, card.Tag));
    }

    [Fact]
    public void Run_FewRunsAndHandKept_AreProvisional()
    {
        MasterData data = new SyntheticLaboratory { Cards = 5 }.Build();
        TrialKind[] kinds = [TrialKind.RandomRead, TrialKind.RandomWrite, TrialKind.SequentialRead, TrialKind.SequentialWrite];
        data = data with
        {
            Runs = [.. data.Runs.Where(r => r.Opened.Tag != "T0004" || r.Key.Sequence % 50 < 25)],
            HandKept = [.. kinds.Select((k, i) => new HandKeptResult { Tag = "old", Kind = k, Value = 1000 >> i, Provenance = "notes.csv line 2" })],
        };
        RankingTable table = Run(data).Rankings[0];
        Assert.Equal(4, table.FirmCards);
        Assert.True(table.Cards.Single(c => c.Name == "old") is { IsHandKept: true, IsProvisional: true, Group: 0 });
        Assert.True(table.Cards.Single(c => c.Name == "T0004") is { IsHandKept: false, IsProvisional: true });
    }

    [Fact]
    public void Run_OneNewRun_IncrementalEqualsFull()
    {
        var laboratory = new SyntheticLaboratory { Cards = 8, RunsPerCard = 14, Boards = 3, Effect = d => d.Board == 1 ? 0.9 : 1 };
        MasterData all = laboratory.Build();
        MasterData before = all with { Runs = [.. all.Runs.SkipLast(1)] };
        AnalysisResult first = Run(before);
        AnalysisResult incremental = Analyser.Run(all, UseProfile.SystemDisk, null, first);
        AnalysisResult full = Run(all);
        Assert.Equal(Text(full), Text(incremental));
        Assert.NotEqual(Text(full), Text(first));
        Assert.Same(first.Cards[0].Metrics, incremental.Cards[0].Metrics);

        // A changed claim is noticed as well.
        MasterData claimed = all with { Claims = [.. all.Claims, new ClaimEntry(all.AsOf, new Claim { Tag = "T0002", IsReference = true })] };
        Assert.Equal(Text(Run(claimed)), Text(Analyser.Run(claimed, UseProfile.SystemDisk, null, incremental)));
    }

    [Fact]
    public void Run_Twice_GivesTheSameText()
    {
        MasterData data = new SyntheticLaboratory { Cards = 9, Boards = 2 }.Build();
        Assert.Equal(Text(Run(data)), Text(Run(data)));
    }

    [Fact]
    public void Run_Nothing_IsEmpty()
    {
        AnalysisResult result = Run(new MasterData { AsOf = DateTimeOffset.UnixEpoch });
        Assert.Empty(result.Cards);
        Assert.Empty(result.Rankings);
        Assert.Empty(result.Tonight);
    }

    private static AnalysisResult Run(MasterData data) => Analyser.Run(data, UseProfile.SystemDisk);

    private static string Text(AnalysisResult result) => System.Text.Json.JsonSerializer.Serialize(result);
}
