using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.CrossChecks;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Fixtures;
using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Collector.Tests.Analysis.CrossChecks;

public class CrossCheckTests
{
    [Fact]
    public void Bus_FastCardOnSlowBus_IsBusLimited()
    {
        CardResult card = Run(new SyntheticLaboratory { Cards = 1, Effect = d => d.Kind == TrialKind.SequentialRead ? 1.45 : 1, Noise = 0.005 }).Cards[0];
        Assert.Contains("46", Assert.Single(card.Findings, f => f.Finding.Id == CheckIds.BusLimited).Finding.Text);
    }

    [Fact]
    public void Stated_SlowerThanLabel_IsFoundOnlyWhereTheBusLeavesRoom()
    {
        SyntheticLaboratory With(double stated) => new()
        {
            Cards = 1, ClaimOf = c => new Claim { Tag = SyntheticLaboratory.Tag(c), StatedReadMegabytesPerSecond = stated },
        };
        Assert.Single(Run(With(40)).Cards[0].Findings, f => f.Finding.Id == CheckIds.SlowerThanStated);
        Assert.Empty(Run(With(30)).Cards[0].Findings);
        Assert.Empty(Run(With(95)).Cards[0].Findings); // no slot at 50 MB/s can show it
    }

    [Fact]
    public void Stall_LongerThanTheStandardAllows_IsNoted()
    {
        CardResult card = Run(new SyntheticLaboratory
        {
            Cards = 1,
            Touch = (d, t) => d is { Run: 3, Kind: TrialKind.RandomWrite } ? t with { StallLimitNs = 100_000_000, StallCount = 2, Stalls = [new(0, 0, 260_000_000), new(0, 0, 900_000_000)] } : t,
        }).Cards[0];
        CardFinding finding = Assert.Single(card.Findings);
        Assert.Equal(CheckIds.LongStall, finding.Finding.Id);
        Assert.Contains("900 ms", finding.Finding.Text);
    }

    [Fact]
    public void Clock_TenYearsBack_IsNotedAndTheNightOfReceiptCounts()
    {
        MasterData data = new SyntheticLaboratory { Cards = 2, Boards = 2, BoardOf = (c, _, _) => c }.Build();
        data = data with { Runs = [.. data.Runs.Select(r => r.Board == "board-b" ? r with { OpenedAt = r.OpenedAt.AddYears(-10), ClockOffset = TimeSpan.FromDays(3652) } : r)] };
        AnalysisResult result = Analyser.Run(data, UseProfile.SystemDisk);
        Finding finding = Assert.Single(result.LaboratoryFindings);
        Assert.Equal(CheckIds.Clock, finding.Id);
        Assert.Contains("board-b", finding.Text);
        Assert.Equal(result.Cards[0].Runs.Select(r => r.Night), result.Cards[1].Runs.Select(r => r.Night));
    }

    [Fact]
    public void Boards_OneCardFarOff_IsRigDisagreementBeforeAnythingElse()
    {
        AnalysisResult result = Run(new SyntheticLaboratory
        {
            Cards = 12, Boards = 3, Noise = 0.01,
            ClaimOf = c => new Claim { Tag = SyntheticLaboratory.Tag(c), StatedReadMegabytesPerSecond = 40 },
            Effect = d => d is { Card: 4, Board: 2 } ? 0.8 : 1,
        });
        CardResult odd = result.Cards[4];
        Assert.Equal(CheckIds.RigDisagreement, odd.Findings[0].Finding.Id);
        Assert.All(result.Cards.Where(c => c != odd), c => Assert.DoesNotContain(c.Findings, f => f.Finding.Id == CheckIds.RigDisagreement));
        Assert.NotEmpty(result.Precision);
    }

    [Fact]
    public void Reference_Drifting_AccusesTheRig()
    {
        AnalysisResult result = Run(new SyntheticLaboratory
        {
            Cards = 3, RunsPerCard = 16, Noise = 0.01,
            ClaimOf = c => new Claim { Tag = SyntheticLaboratory.Tag(c), IsReference = c == 0 },
            Effect = d => d.Kind == TrialKind.SequentialRead ? Math.Pow(0.99, d.Night) : 1,
        });
        Assert.Contains(result.LaboratoryFindings, f => f.Id == CheckIds.RigDrift);
        Assert.Equal(3, result.Cards.Count(c => c.Findings.Any(f => f.Finding.Id == CheckIds.Drift)));
    }

    [Fact]
    public void Drift_WrittenBytesKnown_IsGivenPer100Gigabytes()
    {
        AnalysisResult result = Run(new SyntheticLaboratory { Cards = 1, RunsPerCard = 16, Noise = 0.01, Effect = d => Math.Pow(0.99, d.Night) });
        var drift = result.Cards[0].Metrics[0].Drift!;
        Assert.InRange(drift.PercentPerNight, -1.3, -0.8);
        Assert.True(drift.PercentPer100Gigabytes < -10); // about 0.7 GB a night
    }

    [Fact]
    public void Products_TwoSpecimensFarApart_DoubtBoth()
    {
        AnalysisResult result = Run(new SyntheticLaboratory { Cards = 2, Effect = d => d is { Card: 1, Kind: TrialKind.RandomWrite } ? 0.7 : 1 });
        Assert.All(result.Cards, c => Assert.Equal(FindingSeverity.Doubt, Assert.Single(c.Findings, f => f.Finding.Id == CheckIds.UnlikeItsProduct).Finding.Severity));
    }

    [Fact]
    public void Products_UsedSpecimenSlower_IsNotedOnTheUsedOne()
    {
        AnalysisResult result = Run(new SyntheticLaboratory
        {
            Cards = 4,
            ClaimOf = c => new Claim { Tag = SyntheticLaboratory.Tag(c), Product = "Cliff", Condition = c == 3 ? CardCondition.Used : CardCondition.New },
            Effect = d => d is { Card: 3, Kind: TrialKind.RandomWrite } ? 0.75 : 1,
        });
        Assert.Contains(result.Cards[3].Findings, f => f.Finding.Id == CheckIds.UsedAgainstNew);
        Assert.All(result.Cards.Take(3), c => Assert.Empty(c.Findings));
    }

    [Theory]
    [InlineData("A1", true)]
    [InlineData("A2", true)]
    [InlineData("C10", true)]
    [InlineData("U1", true)]
    [InlineData("U3", false)]
    [InlineData("V30", false)]
    [InlineData("V90", null)]
    public void Marks_MeasuredAgainstTheirMinimum_AreJudged(string mark, bool? met)
    {
        // 2400 and 800 IOPS, 21 MB/s written, on a UHS bus of 50 MB/s.
        CardResult card = Run(new SyntheticLaboratory { Cards = 1, ClaimOf = c => new Claim { Tag = SyntheticLaboratory.Tag(c), Marks = [mark] } }).Cards[0];
        Assert.Equal(met, Assert.Single(card.Marks).Met);
    }

    // The ordinary writes say 40 MB/s; within the card's own allocation units of 8 MB it falls to 25. Registers: vector V7, whose SD Status declares
    // C10, U3, V30 and A2.
    [Theory]
    [InlineData(8 << 20, false, MarkBasis.Judged)]
    [InlineData(4 << 20, true, MarkBasis.OrdinaryTrials)]
    public void Marks_WithAClassTrial_RestOnItWhereItIsJudged(int unitBytes, bool met, MarkBasis basis)
    {
        MasterData data = new SyntheticLaboratory
        {
            Cards = 1,
            ClaimOf = c => new Claim { Tag = SyntheticLaboratory.Tag(c), Marks = ["V30"] },
            Trials = [(TrialKind.SequentialWrite, 40, TrialRole.Measured), (TrialKind.ClassWrite, 25, TrialRole.Measured)],
            Touch = (_, t) => t.Kind == TrialKind.ClassWrite
                ? t with { Standard = ClassStandard.VideoClass, SegmentBytes = unitBytes, Units = 3, SlowestUnitNs = (long)(unitBytes / t.BytesPerSecond * 1e9) }
                : t,
        }.Build();
        var files = new Dictionary<string, Registers.Reading<string>>
        {
            ["type"] = Registers.Reading<string>.Known("SD"),
            ["cid"] = Registers.Reading<string>.Known("9f544953443634476136980065013b7e"),
            ["ssr"] = Registers.Reading<string>.Known("000000000800000004009000011b391e000800000002ff0003".PadRight(128, '0')),
        };
        CardResult card = Analyser.Run(data with { Runs = [.. data.Runs.Select(r => r with { Card = r.Card! with { Files = files } })] }, UseProfile.SystemDisk).Cards[0];
        MeasuredMark mark = Assert.Single(card.Marks, m => m.Mark == "V30");
        Assert.Equal((met, basis, true), (mark.Met, mark.Judgement.Basis, mark.IsClaimed));
    }

    [Fact]
    public void Marks_BusBelowTheirCondition_AreNotJudged()
    {
        CardResult card = Run(new SyntheticLaboratory
        {
            Cards = 1,
            ClaimOf = c => new Claim { Tag = SyntheticLaboratory.Tag(c), Marks = ["U3", "V30", "C10", "C4"] },
            Touch = (_, t) => t with { Before = t.Before with { BusMode = "legacy" }, BlockBytes = t.BlockBytes },
            Effect = d => d.Kind is TrialKind.SequentialRead or TrialKind.SequentialWrite ? 0.3 : 1,
        }).Cards[0];
        Assert.Equal([null, null, null, true], card.Marks.Select(m => m.Met));
    }

    [Fact]
    public void FirstRun_FivePercentLow_IsSetAsideForEveryCard()
    {
        AnalysisResult result = Run(new SyntheticLaboratory
        {
            Cards = 10, RunsPerCard = 12, RunsPerNight = 3, Effect = d => d is { RunOfNight: 0, Kind: TrialKind.RandomRead } ? 0.95 : 1,
        });
        FirstRunEffect effect = Assert.Single(result.FirstRunEffects, e => e.WarmUp > 0);
        Assert.Equal((TrialKind.RandomRead, 1), (effect.Kind, effect.WarmUp));
        Assert.InRange(effect.MedianPercent, -6.5, -3.5);
        Assert.All(result.Cards, c => Assert.Equal((8, 4), (c.Metrics[0].N, c.Metrics[0].SetAside.Count)));
        Assert.Single(result.LaboratoryFindings, f => f.Id == CheckIds.FirstRun);
    }

    private static AnalysisResult Run(SyntheticLaboratory laboratory) => Analyser.Run(laboratory.Build(), UseProfile.SystemDisk);
}
