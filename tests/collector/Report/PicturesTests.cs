using System.Globalization;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Model;
using Cardassay.Fixtures;

namespace Cardassay.Collector.Tests.Report;

/// <summary>Charts show what was planted, and say what the tables say.</summary>
public class PicturesTests
{
    private static readonly MasterData Sample = SampleData.Build();
    private static readonly ReportModel SampleModel = Of(Sample);

    [Fact]
    public void Drift_OneCardFalls_IsTheFirstLineAndFalls()
    {
        ReportModel model = Of(new SyntheticLaboratory { Cards = 3, RunsPerCard = 10, Noise = 0.002, Effect = d => d.Card == 1 ? Math.Pow(0.98, d.Night) : 1 }.Build());
        ReportTable table = model.Comparisons.Single(t => t.Id == "drift");
        DriftPicture picture = Assert.IsType<DriftPicture>(Assert.Single(table.Pictures));

        Assert.All(picture.Lines.Take(4), l => Assert.StartsWith("T0001, ", l.Name, StringComparison.Ordinal)); // its four metrics, the others stand still
        DriftLine line = picture.Lines[0];
        Assert.Equal(10, line.Points.Count);

        // 2 % per night over nine nights around the middle one: 0.98^-4.5 to 0.98^4.5.
        Assert.InRange(line.Points[0].Percent, 108.5, 110.5);
        Assert.InRange(line.Points[^1].Percent, 90.5, 92.5);
        Assert.Contains("2026-03-01: ", table.Rows.First(r => r[0] == "T0001")[4], StringComparison.Ordinal);
    }

    [Fact]
    public void Boards_OneBoardFaster_LiesToTheRightForEveryCard()
    {
        ReportModel model = Of(new SyntheticLaboratory { Cards = 4, Boards = 2, RunsPerCard = 16, Noise = 0.002, Effect = d => d.Board == 1 ? 1.10 : 1 }.Build());
        ReportTable table = model.Comparisons.Single(t => t.Id == "shared-cards");
        Assert.Equal(2, table.Pictures.Count);
        foreach (BoardsPicture picture in table.Pictures.Cast<BoardsPicture>())
        {
            Assert.Equal(["board-a", "board-b"], picture.Boards);
            Assert.Equal(4, picture.Rows.Count);
            Assert.All(picture.Rows, r => Assert.InRange(r.Percent[1]!.Value - r.Percent[0]!.Value, 9, 10.2)); // 1.05 / 1.05 +- of the middle of 1 and 1.1
        }

        // The table says the same: spread in % beside both medians.
        Assert.All(table.Rows, r => Assert.InRange(double.Parse(r[4], CultureInfo.InvariantCulture), 9.5, 10.5));
        Assert.Equal(8, table.Rows.Count);
    }

    [Fact]
    public void Weights_Rows_AreThoseOfTheTable()
    {
        ReportTable table = SampleModel.Comparisons.Single(t => t.Id == "sensitivity");
        WeightsPicture picture = Assert.IsType<WeightsPicture>(Assert.Single(table.Pictures));
        Assert.Equal(table.Rows.Count, picture.Rows.Count);
        foreach ((IReadOnlyList<string> row, WeightsRow drawn) in table.Rows.Zip(picture.Rows))
        {
            Assert.Equal(row[0], drawn.Card);
            Assert.StartsWith(new ReportRank(drawn.Best, drawn.Worst, 9, 0, false).Text, row[1], StringComparison.Ordinal);
            Assert.Equal(new ReportRank(drawn.DrawnBest, drawn.DrawnWorst, 9, 0, false).Text, row[2]);
        }
    }

    [Fact]
    public void Weights_ProvisionalCard_IsDrawnAmongTheOthers()
    {
        // One card with two runs among cards with twelve.
        MasterData data = new SyntheticLaboratory { Cards = 4, RunsPerCard = 12, Specimens = 0.2 }.Build();
        data = data with { Runs = [.. data.Runs.GroupBy(r => r.Opened.Tag).SelectMany(g => g.Key == "T0002" ? g.Take(2) : g)] };
        ReportTable table = Of(data).Comparisons.Single(t => t.Id == "sensitivity");

        Assert.EndsWith("provisional", table.Rows.Single(r => r[0] == "T0002")[1]);
        Assert.DoesNotContain(table.Rows, r => r[2].StartsWith('0'));
    }

    [Fact]
    public void Timeline_ThroughputFallsAfterSevenSeconds_SaysSoAndMarksIt()
    {
        // SampleData writes at 1.2 of the mean for seven seconds, then at 0.72; the twelfth second is cut short and not shown.
        ReportTimeline timeline = SampleModel.Cards.Single(c => c.Tag == "T-01").Timelines.Single(t => t.Name == "Sequential write");
        Assert.Equal([(1, 7), (8, 11)], timeline.Levels.Select(l => (l.FromSecond, l.ToSecond)));
        Assert.Equal(1.2 / 0.72, timeline.Levels[0].Mean.Raw / timeline.Levels[1].Mean.Raw, 0.05);
        Assert.EndsWith($"Its level shifts: {timeline.Levels[0].Mean.Text} MB/s in seconds 1 to 7, then {timeline.Levels[1].Mean.Text} MB/s in seconds 8 to 11.", timeline.Text, StringComparison.Ordinal);
    }

    [Fact]
    public void Runs_EachRun_HasItsOwnMedianAndTheyAddUpToN()
    {
        foreach (ReportMetric metric in SampleModel.Cards.SelectMany(c => c.Metrics).Where(m => !m.HandKept))
        {
            Assert.Equal(metric.Runs, metric.ByRun.Sum(r => r.N));
            Assert.All(metric.ByRun, r =>
            {
                Assert.InRange(r.Median.Raw, r.Low.Raw, r.High.Raw);
                Assert.Contains(metric.Points[r.First], metric.Points.Where(p => p.When == r.When));
                Assert.Contains(metric.Points[r.Last], metric.Points.Where(p => p.When == r.When));
            });
        }

        Assert.Equal(2, SampleModel.Cards.Single(c => c.Tag == "T-01").Metric("randomRead")!.ByRun.Count);
    }

    [Fact]
    public void Html_EveryPicture_IsDrawnOnceWithItsWords()
    {
        string html = HtmlReport.Render(ReportModels.Tarrow());
        foreach (ReportPicture picture in ReportModels.Tarrow().Comparisons.SelectMany(t => t.Pictures))
        {
            Assert.Equal(2, html.Split($"<figcaption>{picture.Title}<").Length); // once
            Assert.Contains($">{picture.Text}</desc>", html, StringComparison.Ordinal);
        }
    }

    private static ReportModel Of(MasterData data)
    {
        AnalysisResult analysis = Analyser.Run(data, UseProfile.SystemDisk);
        return ReportBuilder.Build(data, analysis, CardStandings.Of(data, analysis), ReportNight.Latest(analysis));
    }
}
