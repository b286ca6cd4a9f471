using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.CrossChecks;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Commands;
using Cardassay.Collector.Report.First;
using Cardassay.Fixtures;
using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Collector.Tests.Analysis.CrossChecks;

/// <summary>Two boards and four cards; what is planted on the first board is said of it and of nobody else.</summary>
public class BoardCheckTests
{
    private const string First = "board-a", Second = "board-b";

    [Fact]
    public void Of_HonestBoards_NothingSpeaksAgainstThemAndWhatIsMissingIsNamed()
    {
        (MasterData data, AnalysisResult analysis) = Laboratory();
        foreach (string board in new[] { First, Second })
        {
            IReadOnlyList<BoardCheckLine> lines = BoardCheck.Of(data, analysis, board);
            Assert.DoesNotContain(lines, l => l.Word == BoardCheckWord.SpeaksAgainst);
            Assert.Equal("There is no reference card.", Assert.Single(lines, l => l.What == "reference").Text);
            Assert.All(lines.Where(l => l.Word == BoardCheckWord.NotKnown), l => Assert.NotEqual("", l.Settles));
            Assert.Equal(BoardCheckWord.NothingAgainst, Assert.Single(lines, l => l.What == "link").Word);
        }

        Assert.DoesNotContain(analysis.LaboratoryFindings, f => f.Id == CheckIds.BoardConditions);
        Assert.Equal("No run of this board is here.", Assert.Single(BoardCheck.Of(data, analysis, "board-z")).Text);
    }

    [Theory]
    [InlineData("power", "The board raised the alarm of its supply in 40 of 40 trials in its last 10 runs, with T0000, T0001, T0002 and T0003.")]
    [InlineData("heat", "The board throttled in 40 of 40 trials")]
    [InlineData("link", "Errors of the link between board and card in 40 of 40 trials")]
    [InlineData("other work", "Something else was at work on the board or the card in 40 of 40 trials")]
    public void Of_BadConditions_SpeakAgainstThatBoardInTheCheckAndInTheReport(string what, string expected)
    {
        (MasterData data, AnalysisResult analysis) = Laboratory((d, t) => d.Board == 1 ? t : what switch
        {
            "power" => t with { After = t.After with { UnderVoltage = true } },
            "heat" => t with { Before = t.Before with { Throttled = true } },
            "link" => t with { After = t.After with { LinkErrors = 3 } },
            _ => t with { TimerLateNs = 400_000_000 },
        });
        BoardCheckLine line = Assert.Single(BoardCheck.Of(data, analysis, First), l => l.What == what);
        Assert.Equal(BoardCheckWord.SpeaksAgainst, line.Word);
        Assert.StartsWith(expected.Replace(" and T0003", ", T0003", StringComparison.Ordinal), line.Text, StringComparison.Ordinal);
        Assert.DoesNotContain(BoardCheck.Of(data, analysis, Second), l => l.Word == BoardCheckWord.SpeaksAgainst);

        Finding finding = Assert.Single(analysis.LaboratoryFindings, f => f.Id == CheckIds.BoardConditions);
        Assert.StartsWith("board-a should not be trusted before this is settled: ", finding.Text, StringComparison.Ordinal);
        Assert.Contains(BoardsPart.Lines(ReportDesk.Model(data, UseProfile.SystemDisk)), l => l == finding.Text);
    }

    [Fact]
    public void Of_LinkErrorsWithOneCardAlone_AreNotTheBoardsForCertain()
    {
        (MasterData data, AnalysisResult analysis) = Laboratory((d, t) => d is { Board: 0, Card: 2 } ? t with { After = t.After with { LinkErrors = 1 } } : t);
        BoardCheckLine line = Assert.Single(BoardCheck.Of(data, analysis, First), l => l.What == "link");
        Assert.Equal(BoardCheckWord.NotKnown, line.Word);
        Assert.EndsWith("with T0002. Whether it is the card, its contacts or the slot is not known.", line.Text, StringComparison.Ordinal);
    }

    [Fact]
    public void Of_OneCardAtTwoBusModes_SpeaksAgainstTheBoard()
    {
        (MasterData data, AnalysisResult analysis) = Laboratory((d, t) => d is { Board: 0, Night: >= 10, Card: 1 } ? t with { Before = t.Before with { BusMode = "sd high-speed" } } : t);
        BoardCheckLine line = Assert.Single(BoardCheck.Of(data, analysis, First), l => l.What == "bus");
        Assert.Equal((BoardCheckWord.SpeaksAgainst, "One card ran at several bus modes: T0001 at sd high-speed and sd uhs SDR50."), (line.Word, line.Text));
    }

    [Fact]
    public void Of_BoardWhoseNightsScatter_SpeaksAgainstIt()
    {
        (MasterData data, AnalysisResult analysis) = Laboratory(effect: d => d.Board == 0 ? 1 + (0.15 * ((((d.Run * 7) + (d.Card * 3)) % 5) - 2)) : 1);
        Assert.Equal(BoardCheckWord.SpeaksAgainst, Assert.Single(BoardCheck.Of(data, analysis, First), l => l.What == "repeatability").Word);
        Assert.NotEqual(BoardCheckWord.SpeaksAgainst, Assert.Single(BoardCheck.Of(data, analysis, Second), l => l.What == "repeatability").Word);
    }

    [Fact]
    public void Of_SlowBoardWithAReference_NamesTheOtherOneAndTheNight()
    {
        (MasterData data, AnalysisResult analysis) = Laboratory(effect: d => d.Board == 0 ? 0.8 : 1, isReference: true);
        IReadOnlyList<BoardCheckLine> lines = BoardCheck.Of(data, analysis, First);
        Assert.StartsWith("A reference card last ran here in the night of 2026-03-", Assert.Single(lines, l => l.What == "reference").Text, StringComparison.Ordinal);
        BoardCheckLine beside = Assert.Single(lines, l => l.What == "other boards");
        Assert.Equal(BoardCheckWord.SpeaksAgainst, beside.Word);
        Assert.Matches(@"^(19|20|21)\.\d % slower than board-b", beside.Text);
    }

    [Fact]
    public void Of_BoardSlowerForCertainByLittle_SaysSoAndDoesNotSpeakAgainstIt()
    {
        (MasterData data, AnalysisResult analysis) = Laboratory(effect: d => d.Board == 0 ? 0.976 : 1);
        BoardCheckLine beside = Assert.Single(BoardCheck.Of(data, analysis, First), l => l.What == "other boards");
        Assert.Equal(BoardCheckWord.NothingAgainst, beside.Word);
        Assert.Matches(@"^For certain 2\.\d % slower than board-b, yet less than 3 %; every ranking has it taken out\.$", beside.Text);
    }

    [Fact]
    public void Of_TrialsOfWhichOnlySomeTell_CountsThoseAlone()
    {
        (MasterData data, AnalysisResult analysis) = Laboratory((d, t) => d.Kind == TrialKind.RandomRead ? t : t with { After = t.After with { LinkErrors = null } });
        BoardCheckLine link = Assert.Single(BoardCheck.Of(data, analysis, First), l => l.What == "link");
        Assert.Equal("No error of the link in any of 10 trials that tell, of 40 in its last 10 runs.", link.Text);
    }

    /// <summary>Forty honest laboratories whose nights have the heavy tails of a busy household: at most one of eighty boards may be named.</summary>
    [Fact]
    public void Of_HonestBoardsWithOddNights_AreHardlyEverAccusedOfScatter()
    {
        int accused = 0;
        for (int seed = 0; seed < 40; seed++)
        {
            var random = new Random(seed);
            var factors = new Dictionary<(int, int), double>();
            double Odd(SyntheticLaboratory.Draw d)
            {
                if (!factors.TryGetValue((d.Card, d.Run), out double factor))
                {
                    // Student's t of three degrees, scaled to 3 %.
                    factor = Math.Exp(0.03 * new MathNet.Numerics.Distributions.StudentT(0, 1, 3, random).Sample());
                    factors[(d.Card, d.Run)] = factor;
                }

                return factor;
            }

            (MasterData data, AnalysisResult analysis) = Laboratory(effect: Odd);
            accused += new[] { First, Second }.Count(b => BoardCheck.Of(data, analysis, b).Any(l => l is { What: "repeatability", Word: BoardCheckWord.SpeaksAgainst }));
        }

        Assert.InRange(accused, 0, 1);
    }

    private static (MasterData Data, AnalysisResult Analysis) Laboratory(
        Func<SyntheticLaboratory.Draw, TrialMeasured, TrialMeasured>? touch = null, Func<SyntheticLaboratory.Draw, double>? effect = null, bool isReference = false)
    {
        var laboratory = new SyntheticLaboratory { Cards = 4, Boards = 2, RunsPerCard = 12, Touch = touch ?? ((_, t) => t), Effect = effect ?? (_ => 1) };
        MasterData data = laboratory.Build();
        data = isReference ? data with { Claims = [.. data.Claims.Select(c => c with { Claim = c.Claim with { IsReference = c.Claim.Tag == SyntheticLaboratory.Tag(0) } })] } : data;
        return (data, Analyser.Run(data, UseProfile.SystemDisk));
    }
}
