using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Cards;
using Cardassay.Collector.Analysis.CrossChecks;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Building;
using Cardassay.Collector.Report.Model;
using Cardassay.Fixtures;
using Cardassay.Trials;

namespace Cardassay.Collector.Tests.Analysis;

/// <summary>A change of level is named and drawn at the figure it begins with, wherever the search began to look and whatever was set aside before.</summary>
public sealed class LevelStartTests
{
    [Theory]
    [InlineData(20, 12)] // all runs are searched
    [InlineData(75, 62)] // only the last 60 are
    public void Change_IsNamedAndMarkedAtItsFirstFigure(int runs, int changedFrom)
    {
        (MasterData data, AnalysisResult analysis, MetricSummary metric) = Analyse(runs, run => run < changedFrom ? 1 : 1.4);
        Assert.Equal(changedFrom, IndexOf(metric, Assert.Single(metric.LevelStarts)));
        Assert.Equal(metric.LevelStarts, Assert.Single(analysis.Cards[0].Findings, f => f.Finding.Id == CheckIds.LevelChange).Records);
        Assert.Equal([changedFrom], Marks(data, analysis));
    }

    [Fact]
    public void ChangeWithinOneNight_IsOneRunAndNoChange()
    {
        (_, AnalysisResult analysis, MetricSummary metric) = Analyse(28, run => run < 6 ? 0.5 : run < 21 ? 1 : 1.5, runsPerNight: 28);
        Assert.Empty(metric.LevelStarts);
        Assert.DoesNotContain(analysis.Cards[0].Findings, f => f.Finding.Id == CheckIds.LevelChange);
    }

    private static (MasterData Data, AnalysisResult Analysis, MetricSummary Metric) Analyse(int runs, Func<int, double> level, int runsPerNight = 1)
    {
        MasterData data = new SyntheticLaboratory
        {
            Cards = 1, Boards = 1, RunsPerCard = runs, RunsPerNight = runsPerNight, Noise = 0.01, BoardOf = (_, _, _) => 0,
            Trials = [(TrialKind.RandomRead, 2000, TrialRole.Measured)],
            Effect = draw => level(draw.Run),
        }.Build();
        AnalysisResult analysis = Analyser.Run(data, UseProfile.SystemDisk);
        return (data, analysis, Assert.Single(analysis.Cards[0].Metrics, m => m.Kind == TrialKind.RandomRead));
    }

    private static int IndexOf(MetricSummary metric, RecordKey record) => metric.Values.Select(v => v.Record).ToList().IndexOf(record);

    private static IReadOnlyList<int> Marks(MasterData data, AnalysisResult analysis)
    {
        ReportModel model = ReportBuilder.Build(data, analysis, CardStandings.Of(data, analysis), ReportNight.Latest(analysis));
        return Assert.Single(Assert.Single(model.Cards).Metrics).Changes;
    }
}
