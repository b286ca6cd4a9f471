using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Commands;
using Cardassay.Collector.Report.First;
using Cardassay.Collector.Report.Model;
using Cardassay.Fixtures;
using Cardassay.Trials;

namespace Cardassay.Collector.Tests.Report.First;

/// <summary>An order found in a part of the cards is not claimed of all of them.</summary>
public class RankedPartTests
{
    private const long Card = 64_000_000_000;

    [Theory]
    [InlineData(1L << 30, TargetKind.Device, "Measured in the first 1 GiB; beyond that nothing is known.")]
    [InlineData(Card, TargetKind.Device, "")]
    [InlineData(1L << 30, TargetKind.Folder, "Measured in a file of 1 GiB; beyond that nothing is known.")]
    public void Take_NamesThePartTheOrderStandsOn(long rangeBytes, TargetKind target, string expected)
    {
        ReportModel model = ReportDesk.Model(Data(rangeBytes, target, "night"), UseProfile.SystemDisk);
        string take = string.Join(' ', TakePart.Lines(model));
        Assert.Equal(expected.Length > 0, take.Contains("Measured in", StringComparison.Ordinal));
        Assert.Contains(expected, take, StringComparison.Ordinal);
        Assert.Equal(expected.Length > 0, model.RankingStatement.Contains("They were measured in", StringComparison.Ordinal));
    }

    [Fact]
    public void Rank_OfTwoPlansThatMeasuredAllCards_StandsOnTheOneThatGoesOverThem()
    {
        MasterData part = Data(1L << 30, TargetKind.Device, "a-part", runs: 12), whole = Data(Card, TargetKind.Device, "b-whole", runs: 4);
        RunRecord[] runs =
        [
            .. part.Runs.Concat(whole.Runs.Select(r => r with
            {
                Key = new RecordKey(r.Key.Epoch, r.Key.Sequence + 100_000), Opened = r.Opened with { RunId = RunId.FromBytes([.. r.Opened.RunId.ToBytes().Reverse()]) },
                Trials = [.. r.Trials.Select(t => t with { Key = new RecordKey(t.Key.Epoch, t.Key.Sequence + 100_000) })],
            })).OrderBy(r => r.Key.Epoch, StringComparer.Ordinal).ThenBy(r => r.Key.Sequence),
        ];
        AnalysisResult analysis = Analyser.Run(part with { Runs = runs }, UseProfile.SystemDisk);
        Assert.Equal(["b-whole", "a-part"], analysis.Rankings.Select(table => table.Context.Plan));
    }

    private static MasterData Data(long rangeBytes, TargetKind target, string plan, int runs = 6)
    {
        MasterData data = new SyntheticLaboratory { Cards = 3, RunsPerCard = runs, Specimens = 0.3, Touch = (_, trial) => trial with { RangeBytes = rangeBytes } }.Build();
        return data with { Runs = [.. data.Runs.Select(r => r with { Opened = r.Opened with { Target = target, TargetBytes = target == TargetKind.Device ? Card : rangeBytes, PlanName = plan } })] };
    }
}
