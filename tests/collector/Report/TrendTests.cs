using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Commands;
using Cardassay.Collector.Report.Building;
using Cardassay.Collector.Report.Model;
using Cardassay.Fixtures;
using Cardassay.Identity;

namespace Cardassay.Collector.Tests.Report;

/// <summary>Pictures over time against what was planted: a card that loses a fifth, a board with one slow night, boards that differ by a tenth all along.</summary>
public class TrendTests
{
    private const int Fallen = 0, SlowBoard = 1, SlowNight = 8;

    private static readonly ReportModel Planted = Of(new SyntheticLaboratory
    {
        Cards = 12, Boards = 2, RunsPerCard = 14, Noise = 0.004, Trials = SyntheticLaboratory.Large(1).Trials,
        Effect = draw => (draw.Card == Fallen && draw.Night >= 6 ? 0.8 : 1) * (draw.Board == SlowBoard ? 0.9 : 1) * (draw.Board == SlowBoard && draw.Night == SlowNight ? 0.93 : 1),
    });

    [Fact]
    public void Card_ThatLostAFifth_ShowsItNightByNightWithBoardsTakenOut()
    {
        DriftPicture trend = Card(Fallen).Trend!;
        DriftPoint[] read = [.. trend.Lines.Single(l => l.Name == "random read").Points];
        Assert.Equal(14, read.Length);
        double before = read.Take(6).Average(p => p.Percent), after = read.Skip(6).Average(p => p.Percent);
        Assert.InRange(after / before, 0.77, 0.83);
        Assert.InRange(read.Take(6).Max(p => p.Percent) / read.Take(6).Min(p => p.Percent), 1, 1.04);
        Assert.Contains(Card(Fallen).Findings, f => f.Id is "level-change" or "drift-over-nights" && trend.Text.EndsWith(f.Text, StringComparison.Ordinal));
    }

    [Fact]
    public void Card_ThatStayedTheSame_IsNotSaidToBe()
    {
        DriftPicture trend = Card(3).Trend!;

        // Its boards differ by a tenth: what is left moves by the noise and by the board's one slow night.
        Assert.All(trend.Lines.SelectMany(l => l.Points).Where(p => p.Night.DayNumber - trend.Lines[0].Points[0].Night.DayNumber != SlowNight), p => Assert.InRange(p.Percent, 97, 103));
        Assert.EndsWith("which does not show that there is none.", trend.Text, StringComparison.Ordinal);
    }

    [Fact]
    public void Card_OfFourNights_IsToldThatNothingIsTested()
    {
        ReportModel few = Of(new SyntheticLaboratory { Cards = 3, Boards = 2, RunsPerCard = 4 });
        Assert.All(few.Cards, c => Assert.EndsWith("not tested below 5 nights.", c.Trend!.Text, StringComparison.Ordinal));
        Assert.All(Of(new SyntheticLaboratory { Cards = 3, Boards = 1, RunsPerCard = 1 }).Cards, c => Assert.Null(c.Trend));
    }

    [Fact]
    public void Boards_OneSlowNight_IsTheLowestPointOfThatBoardAlone()
    {
        ReportTable table = Planted.Comparisons.Single(t => t.Id == "boards-over-time");
        DriftPicture picture = Assert.IsType<DriftPicture>(Assert.Single(table.Pictures));
        DriftPoint lowest = picture.Lines.SelectMany(l => l.Points).MinBy(p => p.Percent);
        DriftLine board = picture.Lines.Single(l => l.Points.Contains(lowest));
        Assert.Equal(SyntheticLaboratory.Board(SlowBoard), board.Name);
        Assert.Equal(SlowNight, lowest.Night.DayNumber - board.Points[0].Night.DayNumber);
        Assert.InRange(lowest.Percent, 92, 95);
        Assert.All(picture.Lines.SelectMany(l => l.Points).Where(p => p != lowest), p => Assert.InRange(p.Percent, 98.5, 101.5));
        Assert.Equal(["84", "12", "420", "0"], table.Rows.Single(r => r[0] == board.Name).Skip(2).Take(4));
    }

    [Fact]
    public void Products_SpecimensOfTwoRevisions_AreSaidToBeTwoAndToldApartOnlyWhereRanksDoNotMeet()
    {
        ReportCard[] cards =
        [
            Specimen("T-2", "0xf1 SD64G 1.1", "2025-02", new ReportRank(3, 4, 5, 2, false)),
            Specimen("T-1", "0xf1 SD64G 1.0", "2024-08", new ReportRank(1, 2, 5, 1, false)),
            Specimen("T-3", "0xf1 SD64G 1.0", "2024-09", new ReportRank(2, 3, 5, 1, false)),
            Specimen("T-4", "0xf1 SD64G 2.0", "2024-09", null) with { VerdictKind = VerdictKind.NotAsClaimed },
        ];
        ReportTable table = ProductTrend.Build(cards);
        Assert.StartsWith("Halvorn Basalt 64 GB: 2 revisions by their registers; told apart: T-1 (made 2024-08) ahead of T-2 (made 2025-02). ", table.Intro, StringComparison.Ordinal);
        Assert.Equal(["T-1", "T-3", "T-2"], table.Rows.Select(r => r[1]));

        ReportCard[] apart = [.. Enumerable.Range(1, 4).Select(i => Specimen($"T-{i}", "0xf1 SD64G 1.0", "", new ReportRank(i, i, 4, i, false)))];
        Assert.Contains("told apart: T-1 ahead of T-2, T-1 ahead of T-3, T-1 ahead of T-4 and 3 more pairs.", ProductTrend.Build(apart).Intro, StringComparison.Ordinal);

        ReportCard[] hidden = [cards[0] with { Revision = null, Rank = new ReportRank(1, 3, 3, 1, false) }, cards[1] with { Revision = null, Rank = new ReportRank(1, 3, 3, 1, false) }];
        Assert.Contains("whether it changed inside is not known", ProductTrend.Build(hidden).Intro, StringComparison.Ordinal);
        Assert.Contains("their ranks do not tell them apart", ProductTrend.Build(hidden).Intro, StringComparison.Ordinal);
        Assert.Empty(ProductTrend.Build([cards[0], cards[3]]).Rows);
    }

    [Fact]
    public void Products_AUsedSpecimen_HasNoFigureBesideNewOnes()
    {
        ReportCard[] cards = [.. Of(new SyntheticLaboratory
        {
            Cards = 3, Boards = 1, RunsPerCard = 3,
            ClaimOf = card => new Claim { Tag = SyntheticLaboratory.Tag(card), Maker = "Halvorn", Product = "Terrace", LabelGigabytes = 64, Condition = card == 2 ? CardCondition.Used : CardCondition.New },
        }).Cards.Select(c => c with { Revision = new ReportRevision("0xf1 SD64G 1.0", "2024-08") })];
        ReportTable table = ProductTrend.Build(cards);
        Assert.Equal(["–", "–"], table.Rows.Single(r => r[1] == SyntheticLaboratory.Tag(2)).Skip(6));
        Assert.All(table.Rows.Where(r => r[1] != SyntheticLaboratory.Tag(2)).SelectMany(r => r.Skip(6)), cell => Assert.Matches(@"^\d", cell));
        Assert.Equal(2, Assert.IsType<SpecimensPicture>(Assert.Single(table.Pictures)).Rows.Count);
    }

    private static ReportCard Specimen(string tag, string registers, string made, ReportRank? rank) => new()
    {
        Tag = tag, Title = tag, Product = "Halvorn Basalt 64 GB", Revision = new ReportRevision(registers, made), Rank = rank, VerdictKind = VerdictKind.AsClaimed, Verdict = "as claimed",
    };

    private static ReportCard Card(int card) => Planted.Cards.Single(c => c.Tag == SyntheticLaboratory.Tag(card));

    private static ReportModel Of(SyntheticLaboratory laboratory) => ReportDesk.Model(laboratory.Build(), UseProfile.SystemDisk);
}
