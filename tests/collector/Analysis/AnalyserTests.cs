using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.CardBoard;
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
        Assert.Equal((6, 3, 1), (table.Cards.Count, table.Boards.Count, table.Parts));
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
                7 => t with { ElapsedNs = 0 },
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
    public void Run_LongWriteBeforeTheRounds_TheClosingTrialIsHeldBesideTheFirstOfThem()
    {
        var laboratory = new SyntheticLaboratory
        {
            Cards = 1,
            Trials =
            [
                (TrialKind.Cliff, 30, TrialRole.Measured), (TrialKind.RandomRead, 500, TrialRole.Measured), (TrialKind.RandomRead, 2400, TrialRole.Measured),
                (TrialKind.RandomRead, 500, TrialRole.Closing), (TrialKind.RandomRead, 2100, TrialRole.Closing),
            ],
            Touch = (_, trial) => trial.Kind != TrialKind.RandomRead ? trial : trial with { Pass = trial.OperationsPerSecond < 1000 ? 1 : 2 },
        };
        CardFinding finding = Assert.Single(Run(laboratory.Build()).Cards[0].Findings, f => f.Finding.Id == CheckIds.ChangedDuringRun);
        Assert.StartsWith("random read 4 KiB, depth 1 is 12", finding.Finding.Text, StringComparison.Ordinal);
        Assert.DoesNotContain("first pass", finding.Finding.Text, StringComparison.Ordinal);
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
    public void Run_FewRunsAndHandKept_StandInTheSameListWithAMark()
    {
        MasterData data = WithOld(new SyntheticLaboratory { Cards = 6, Boards = 3, RunsPerCard = 9 }, 2);
        data = data with { Runs = [.. data.Runs.Where(r => r.Opened.Tag != "T0004" || r.OpenedAt < SyntheticLaboratory.FirstNight.AddDays(2))] };
        RankingTable table = Run(data).Rankings[0];
        Assert.True(table.Cards[0] is { Name: "old", IsHandKept: true, IsProvisional: true, Best: 1, Worst: 1, HasInterval: true }); // twice as fast as all
        Assert.True(table.Cards.Single(c => c.Name == "T0004") is { IsHandKept: false, IsProvisional: true, Runs: 2 });
        Assert.Equal(5, table.Cards.Count(c => !c.IsProvisional));
        Assert.Equal(table.Cards.Select(c => c.Composite).OrderDescending(), table.Cards.Select(c => c.Composite));
    }

    [Theory]
    [InlineData(1, 1, false, 1, 7)] // nothing says how far boards lie apart, so nothing is said
    [InlineData(3, 1, true, 1, 1)] // equal boards: 30 % ahead is ahead
    [InlineData(3, 0.85, true, 1, 7)] // where a board may be 15 % off, 30 % of one figure may be the board's
    public void Run_HandKept_ClaimsNoMoreThanOneFigureOnAnUnknownBoardCan(int boards, double slow, bool hasInterval, int best, int worst)
    {
        RankingTable table = Run(WithOld(new SyntheticLaboratory
        {
            Cards = 6, Boards = boards, RunsPerCard = 9, Specimens = 0, Noise = 0.005, Effect = d => d.Board == 1 ? slow : 1,
        }, 1.3)).Rankings[0];
        RankedCard old = table.Cards.Single(c => c.IsHandKept);
        Assert.Equal((hasInterval, best, worst), (old.HasInterval, old.Best, old.Worst));
        Assert.All(table.Cards.Where(c => !c.IsHandKept), c => Assert.True(c.HasInterval && c.High / c.Low < 1.02));
    }

    [Fact]
    public void HandKeptVariance_IsThatOfOneRepetitionOfOneRunOnOneMoreBoard()
    {
        AnalysisResult result = Analyser.Run(new SyntheticLaboratory
        {
            Cards = 8, Boards = 4, RunsPerCard = 12, Specimens = 0.05, Noise = 0.02, SameLevelAs = _ => 0, Effect = d => 1 - 0.02 * d.Board,
            Trials = [.. Enumerable.Repeat((TrialKind.RandomRead, 2400.0, TrialRole.Measured), 3)],
        }.Build(), new UseProfile("one", [new(TrialKind.RandomRead, 1, 1500)]));
        CardBoardFit fit = result.Fits!.All[0];
        (double variance, double df) = RankOrder.HandKeptVariance(fit);
        double[] effects = fit.Fit.BoardEffects;
        double boards = MathNet.Numerics.Statistics.ArrayStatistics.Variance(effects) * 5 / 4;
        double within = result.Cards.SelectMany(c => c.Metrics.Single().Values.GroupBy(v => v.Run)).Average(r => MathNet.Numerics.Statistics.ArrayStatistics.Variance([.. r.Select(v => Math.Log(v.Value))]));
        Assert.Equal(fit.Prior!.Value.PriorVariance + within + boards, variance, 1e-9);
        Assert.InRange(within, 0.7 * 0.0004, 1.4 * 0.0004); // 2 %
        Assert.InRange(df, 3, 40); // four boards say little of boards, and most of this variance is theirs
    }

    private static MasterData WithOld(SyntheticLaboratory laboratory, double factor) => laboratory.Build() with
    {
        HandKept = [.. laboratory.Trials.Select(t => new HandKeptResult { Tag = "old", Kind = t.Kind, Value = factor * t.Figure, Provenance = "notes.csv line 2" })],
    };

    [Fact]
    public void Run_CardThatCompletesNothing_RanksLastAndIsToldOf()
    {
        AnalysisResult result = Run(new SyntheticLaboratory
        {
            Cards = 6, RunsPerCard = 6,
            Touch = (d, t) => d is { Card: 3, Kind: TrialKind.RandomWrite } ? t with { Operations = 0, Bytes = 0, ElapsedNs = 30_000_000_000, Valid = false, Reasons = ["No operation was completed."] } : t,
        }.Build());
        Assert.Equal("T0003", result.Rankings[0].Cards[^1].Name);
        Assert.Equal((6, 6), (result.Rankings[0].Cards[^1].Best, result.Rankings[0].Cards[^1].Worst));
        CardResult card = result.Card("T0003")!;
        Assert.Equal((6, 0.0), (card.Metrics[1].N, card.Metrics[1].Median));
        Assert.Contains("not one operation", Assert.Single(card.Findings, f => f.Finding.Id == CheckIds.CompletedNothing).Finding.Text);
        Assert.Contains("30000 ms", Assert.Single(card.Findings, f => f.Finding.Id == CheckIds.LongStall).Finding.Text);
    }

    [Fact]
    public void Run_TrialThatAnErrorEndedAtOnce_SaysNothingOfSpeedAndIsTold()
    {
        AnalysisResult result = Run(new SyntheticLaboratory
        {
            Cards = 6, RunsPerCard = 6, Specimens = 0,
            Touch = (d, t) => d is { Card: 3, Run: 2, Kind: TrialKind.RandomWrite }
                ? t with { Operations = 0, Bytes = 0, Valid = false, Reasons = [TrialReasons.IoError + " at byte 4096: Input/output error (EIO).", "No operation was completed."] }
                : t,
        }.Build());
        CardResult card = result.Card("T0003")!;
        Assert.Equal(5, card.Metrics[1].N);
        Assert.DoesNotContain(card.Findings, f => f.Finding.Id == CheckIds.CompletedNothing);
        Assert.Contains(card.Findings, f => f.Finding.Id == CheckIds.InvalidTrials);
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
