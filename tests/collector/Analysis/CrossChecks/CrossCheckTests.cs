using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.CardBoard;
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

    [Theory]
    [InlineData(TrialKind.DatabaseCommit, 1, TargetKind.Device, 2_000, "")] // a thousand writes
    [InlineData(TrialKind.PackageInstall, 1, TargetKind.Folder, 2_000, "")]
    [InlineData(TrialKind.SynchronousWrite, 1, TargetKind.Device, 400, "")] // a write and a flush
    [InlineData(TrialKind.SynchronousWrite, 1, TargetKind.Device, 600, CheckIds.LongStall)]
    [InlineData(TrialKind.RandomWrite, 1, TargetKind.Device, 260, CheckIds.LongStall)]
    [InlineData(TrialKind.RandomWrite, 8, TargetKind.Device, 900, CheckIds.LongWait)] // behind seven others
    [InlineData(TrialKind.RandomWrite, 1, TargetKind.Folder, 900, CheckIds.LongWait)] // and a file system
    public void Stall_IsTheCardsOnlyWhereNothingElseWasWaitedFor(TrialKind kind, int depth, TargetKind target, int ms, string expected)
    {
        MasterData data = new SyntheticLaboratory
        {
            Cards = 1,
            Trials = [(kind, 100, TrialRole.Measured)],
            Touch = (d, t) => d.Run == 3 ? t with { QueueDepth = depth, StallLimitNs = 1, StallCount = 1, Stalls = [new(0, 0, ms * 1_000_000L)] } : t with { QueueDepth = depth },
        }.Build();
        data = data with { Runs = [.. data.Runs.Select(r => r with { Opened = r.Opened with { Target = target } })] };
        Assert.Equal(expected, string.Join(' ', Analyser.Run(data, UseProfile.SystemDisk).Cards[0].Findings.Select(f => f.Finding.Id).Where(id => id is CheckIds.LongStall or CheckIds.LongWait)));
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
    public void Boards_OneCardOffOnOneBoard_IsThatPair()
    {
        AnalysisResult result = Run(new SyntheticLaboratory { Cards = 12, Boards = 3, Noise = 0.01, Effect = d => d is { Card: 4, Board: 2 } ? 0.8 : 1 });
        CardResult odd = result.Cards[4];
        Assert.Contains("this card on this board", odd.Findings.First(f => f.Finding.Id == CheckIds.RigDisagreement).Finding.Text);
        Assert.All(result.Cards.Where(c => c != odd), c => Assert.Empty(c.Findings));
        Assert.NotEmpty(result.Precision);
    }

    [Fact]
    public void Boards_OneSlow_IsOneFindingOverAllMetrics()
    {
        AnalysisResult result = Run(new SyntheticLaboratory { Cards = 10, Boards = 3, Noise = 0.03, Effect = d => d.Board == 1 ? 0.93 : 1 });
        Finding finding = Assert.Single(result.LaboratoryFindings);
        Assert.Equal(CheckIds.BoardEffect, finding.Id);
        Assert.StartsWith("board-b measures", finding.Text);
        Assert.Contains("slower than board-a and board-c", finding.Text);
        Assert.All(result.Cards, c => Assert.Empty(c.Findings));
        Assert.InRange(result.BoardPairs.Single(p => p is { Slower: "board-b", Faster: "board-a" }).Percent, -9, -5);
        Assert.All(result.BoardEffects.Where(e => e.Board == "board-b"), e => Assert.True(e is { Differs: true, IsFinding: true }));
    }

    [Fact]
    public void Boards_LinkedOnlyByAThirdOne_AreNotSaidToShareCards()
    {
        // A chain: half of the cards move between a and b, the others between b and c. Only its ends differ by what is worth a finding.
        AnalysisResult result = Run(new SyntheticLaboratory
        {
            Cards = 24, Boards = 3, RunsPerCard = 8, Noise = 0.005, BoardOf = (card, run, _) => (card % 2) + (run % 2), Effect = d => 1 - (0.022 * d.Board),
        });
        Finding finding = Assert.Single(result.LaboratoryFindings);
        Assert.StartsWith("board-c measures", finding.Text);
        Assert.Contains("slower than board-a (", finding.Text);
        Assert.Contains("with no card measured on both, only through cards they share with other boards; it cannot be told", finding.Text);
        Assert.DoesNotContain("0 shared", finding.Text);
    }

    [Fact]
    public void Level_CardDropsWhileMoving_IsTheCardsOwn()
    {
        AnalysisResult result = Run(new SyntheticLaboratory { Cards = 12, Boards = 3, RunsPerCard = 12, Noise = 0.02, Effect = d => d is { Card: 5, Night: >= 7 } ? 0.8 : 1 });
        CardFinding[] changes = [.. result.Cards[5].Findings.Where(f => f.Finding.Id == CheckIds.LevelChange)];
        Assert.Equal(4, changes.Length);
        Assert.All(changes, c => Assert.Contains("the card's own", c.Finding.Text));
        Assert.All(result.Cards.Where(c => c.Name != "T0005"), c => Assert.Empty(c.Findings));
        Assert.Empty(result.LaboratoryFindings);
    }

    [Fact]
    public void Level_BoardChangesUnderAllItsCards_IsTheBoards()
    {
        AnalysisResult result = Run(new SyntheticLaboratory { Cards = 12, Boards = 3, RunsPerCard = 12, Noise = 0.01, BoardOf = (card, _, boards) => card % boards, Effect = d => d is { Board: 1, Night: >= 6 } ? 0.85 : 1 });
        Assert.All(result.Cards, c => Assert.Empty(c.Findings));
        Assert.Contains(result.LaboratoryFindings, f => f.Id == CheckIds.LevelChange && f.Text.Contains("it is the board's", StringComparison.Ordinal));
    }

    [Theory]
    [InlineData(12, 0.995, 0, -0.0055, -0.0045)] // all wear: theirs in common
    [InlineData(12, 1, 0.9, 0, 0)] // all drop in one night: a step, which must stay one
    [InlineData(2, 0.995, 0, 0, 0)] // too few to say what is common
    public void Level_SlopeThatAllCardsShare_IsTakenOffBeforeALevelIsJudged(int cards, double wear, double drop, double least, double most)
    {
        AnalysisResult result = Run(new SyntheticLaboratory
        {
            Cards = cards, Boards = 3, RunsPerCard = 12, Noise = 0.01, Effect = d => Math.Pow(wear, d.Night) * (drop > 0 && d.Night >= 6 ? drop : 1),
        });
        FitResiduals[] fits = [.. result.Fits!.All.Select(f => new FitResiduals(f))];
        Assert.All(fits, f => Assert.InRange(f.CommonSlope, least, most));
        Assert.All(fits.Where(f => f.CommonSlope < 0), f => Assert.All(f.Level, k => Assert.InRange(SlopeOf(k), -0.003, 0.003)));
        static double SlopeOf(double[] residuals) => MathNet.Numerics.Fit.Line([.. Enumerable.Range(0, residuals.Length).Select(i => (double)i)], residuals).B;
    }

    [Fact]
    public void Level_CardDropsWhereAllWear_IsTheCardsOwnBySoMuch()
    {
        AnalysisResult result = Run(new SyntheticLaboratory
        {
            Cards = 12, Boards = 3, RunsPerCard = 12, Noise = 0.01, Effect = d => Math.Pow(0.99, d.Night) * (d is { Card: 5, Night: >= 7, Kind: TrialKind.RandomRead } ? 0.94 : 1),
        });
        CardFinding change = Assert.Single(result.Cards.SelectMany(c => c.Findings), f => f.Finding.Id == CheckIds.LevelChange);
        Assert.Contains(change, result.Cards[5].Findings);
        Assert.Contains("the card's own", change.Finding.Text);
        Assert.InRange(double.Parse(change.Finding.Values.Single(v => v.Name == "change, %").Value, System.Globalization.CultureInfo.InvariantCulture), -7.5, -4.5);
    }

    [Fact]
    public void Boards_NightsThatMoveAllCardsOfABoard_AreNotTheBoards()
    {
        // Four nights of a board scatter by 3 %; thirty cards say the same of each, and still it is four nights.
        double variance = 0;
        int accused = 0, asIfIndependent = 0;
        for (int seed = 0; seed < 20; seed++)
        {
            var normal = new MathNet.Numerics.Distributions.Normal(0, 1, new MathNet.Numerics.Random.MersenneTwister(seed, threadSafe: false));
            double[,] nights = new double[3, 4];
            for (int i = 0; i < nights.Length; i++)
            {
                nights[i / 4, i % 4] = Math.Exp(0.03 * normal.Sample());
            }

            AnalysisResult result = Run(new SyntheticLaboratory { Cards = 30, Boards = 3, RunsPerCard = 4, Noise = 0.01, Seed = seed, Effect = d => nights[d.Board, d.Night] });
            CardBoardFit fit = result.Fits!.All[0];
            variance += new BoardNights(fit).Variance / 20;
            accused += result.LaboratoryFindings.Any(f => f.Id == CheckIds.BoardEffect) ? 1 : 0;
            asIfIndependent += Math.Abs(fit.Fit.BoardEffects[0] - fit.Fit.BoardEffects[1]) > 3 * Math.Sqrt(fit.Fit.DifferenceVariance(0, 1)) ? 1 : 0;
        }

        Assert.InRange(variance, 0.6 * 0.0009, 1.6 * 0.0009);
        Assert.True(accused <= 2, $"accused in {accused} of 20");
        Assert.True(asIfIndependent >= 5, $"as if cards were independent in {asIfIndependent} of 20"); // else there was nothing to get wrong
    }

    [Fact]
    public void Wear_CardOnThreeBoardsInTurn_IsFoundAndIsTheCardsOwn()
    {
        AnalysisResult result = Run(new SyntheticLaboratory { Cards = 12, Boards = 3, RunsPerCard = 12, Noise = 0.02, Effect = d => d is { Card: 5, Kind: TrialKind.RandomWrite } ? Math.Pow(0.98, d.Night) : 1 });
        CardFinding drift = Assert.Single(result.Cards[5].Findings);
        Assert.Equal(CheckIds.Drift, drift.Finding.Id);
        Assert.Contains("the card's own", drift.Finding.Text);
        Assert.Contains("per 100 GB", drift.Finding.Text);
        Assert.All(result.Cards.Where(c => c.Name != "T0005"), c => Assert.Empty(c.Findings));
    }

    [Fact]
    public void Outliers_ThreeRunsOfTwentyFour_DoNotHideEachOther()
    {
        AnalysisResult result = Run(new SyntheticLaboratory { Cards = 8, RunsPerCard = 24, Noise = 0.02, Effect = d => d is { Card: 2, Run: 4 or 11 or 19, Kind: TrialKind.RandomRead } ? 0.8 : 1 });
        CardFinding finding = Assert.Single(result.Cards[2].Findings);
        Assert.Equal((CheckIds.Outlier, 3), (finding.Finding.Id, finding.Records.Count));
        Assert.Contains("the card's own", finding.Finding.Text);
        Assert.All(result.Cards.Where(c => c.Name != "T0002"), c => Assert.Empty(c.Findings));
    }

    [Fact]
    public void Outliers_AWholeBoardsNight_IsTheNights()
    {
        AnalysisResult result = Run(new SyntheticLaboratory { Cards = 8, RunsPerCard = 16, Noise = 0.01, Effect = d => d is { Night: 9 } ? 0.8 : 1 });
        Assert.All(result.Cards, c => Assert.Empty(c.Findings));
        Assert.Contains(result.LaboratoryFindings, f => f.Id == CheckIds.Outlier && f.Text.Contains("it is the night's on that board", StringComparison.Ordinal));
    }

    [Fact]
    public void Reference_Drifting_AccusesTheRig()
    {
        AnalysisResult result = Run(new SyntheticLaboratory
        {
            Cards = 6, RunsPerCard = 16, Noise = 0.01,
            ClaimOf = c => new Claim { Tag = SyntheticLaboratory.Tag(c), IsReference = c == 0 },
            Effect = d => d.Kind == TrialKind.SequentialRead ? Math.Pow(0.99, d.Night) : 1,
        });
        Assert.Contains(result.LaboratoryFindings, f => f.Id == CheckIds.RigDrift);
        Assert.Contains("T0000, T0001, T0002, T0003, T0004, T0005", result.LaboratoryFindings.First(f => f.Id == CheckIds.Drift).Text);
        Assert.All(result.Cards, c => Assert.Empty(c.Findings)); // all of them did, so it is none's own
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
    [InlineData(8 << 20, 4 << 20, false, MarkBasis.AsThisHostCanAsk)]
    [InlineData(4 << 20, 4 << 20, true, MarkBasis.OrdinaryTrials)]
    [InlineData(8 << 20, 0, true, MarkBasis.OrdinaryTrials)] // by an agent that counted the first unit too
    public void Marks_WithAClassTrial_RestOnItWhereItIsJudged(int unitBytes, int countedBytes, bool met, MarkBasis basis)
    {
        MasterData data = new SyntheticLaboratory
        {
            Cards = 1,
            ClaimOf = c => new Claim { Tag = SyntheticLaboratory.Tag(c), Marks = ["V30"] },
            Trials = [(TrialKind.SequentialWrite, 40, TrialRole.Measured), (TrialKind.ClassWrite, 25, TrialRole.Measured)],
            Touch = (_, t) => t.Kind == TrialKind.ClassWrite
                ? t with
                {
                    Standard = ClassStandard.VideoClass, SegmentBytes = unitBytes, Units = 3, LeftOutUnits = 1, CountedUnitBytes = countedBytes,
                    SlowestUnitNs = (long)(Math.Max(countedBytes, 4 << 20) / t.BytesPerSecond * 1e9),
                }
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

    [Theory]
    [InlineData(Attachment.Fixed, "on one disk that is no card")]
    [InlineData(Attachment.Reader, "in one reader")]
    public void Laboratory_SeveralTagsOnOneDeviceWithoutRegisters_IsOfTheSetUpNotOfTheCards(Attachment attachment, string words)
    {
        MasterData data = new SyntheticLaboratory { Cards = 3, RunsPerCard = 3 }.Build();
        Assert.DoesNotContain(Analyser.Run(data, UseProfile.SystemDisk).LaboratoryFindings, f => f.Id == CheckIds.SharedDevice);
        AnalysisResult result = Analyser.Run(
            data with
            {
                Runs =
                [
                    .. data.Runs.Select(r => r with
                    {
                        Opened = r.Opened with { Attachment = attachment },
                        Card = r.Card! with { Identity = "noregisters-vda-275000000000-noserial", IdentityFromRegisters = false, Attachment = attachment },
                    }),
                ],
            },
            UseProfile.SystemDisk);
        Finding found = Assert.Single(result.LaboratoryFindings, f => f.Id == CheckIds.SharedDevice);
        Assert.Equal(FindingSeverity.Note, found.Severity);
        Assert.Contains(words, found.Text, StringComparison.Ordinal);
        Assert.All(result.Cards, c => Assert.Contains(c.Name, found.Text, StringComparison.Ordinal));
        Assert.DoesNotContain(result.Cards.SelectMany(c => c.Findings), f => f.Finding.Severity > FindingSeverity.Note);
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

    [Fact]
    public void FirstRun_FivePercentHigh_IsSetAsideAsWell()
    {
        AnalysisResult result = Run(new SyntheticLaboratory
        {
            Cards = 10, RunsPerCard = 12, RunsPerNight = 3, Effect = d => d is { RunOfNight: 0, Kind: TrialKind.RandomRead } ? 1.06 : 1,
        });
        FirstRunEffect effect = Assert.Single(result.FirstRunEffects, e => e.WarmUp > 0);
        Assert.True(effect is { Kind: TrialKind.RandomRead, IsBest: true, WarmUp: 1 });
        Assert.Contains("is the best one", Assert.Single(result.LaboratoryFindings, f => f.Id == CheckIds.FirstRun).Text);
    }

    private static AnalysisResult Run(SyntheticLaboratory laboratory) => Analyser.Run(laboratory.Build(), UseProfile.SystemDisk);
}
