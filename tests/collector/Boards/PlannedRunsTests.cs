using Cardassay.Collector.Analysis;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Report;
using Cardassay.Trials;

namespace Cardassay.Collector.Tests.Boards;

/// <summary>What the report is told of a night in which a run is still going on.</summary>
public sealed class PlannedRunsTests
{
    private static readonly DateTimeOffset Set = new(2031, 3, 12, 21, 0, 0, TimeSpan.Zero);
    private static readonly RunId Id = new(new Guid(7, 0, 0, 0, 0, 0, 0, 0, 0, 0, 9));

    [Theory]
    [InlineData("mole-1", "overnight", "T-07", 5, true)]
    [InlineData("mole-2", "overnight", "T-07", 5, false)] // another board's
    [InlineData("mole-1", "first-look", "T-07", 5, false)] // of another plan
    [InlineData("mole-1", "overnight", "T-08", 5, false)] // on another card
    [InlineData("mole-1", "overnight", "T-07", -5, false)] // begun before anything was scheduled
    public void RunUnderWay_IsTheEntrysOwn_AndNotMissingBesides(string board, string plan, string tag, int minutes, bool isIts)
    {
        var entry = new ScheduledEntry(new V1.ScheduleEntry { ScheduleId = "1", Board = "mole-1", PlanName = "overnight", Tag = "T-07", Repeat = 1 }, Set);
        var data = new MasterData { AsOf = Set.AddHours(1), Runs = [Open(board, plan, tag, Set.AddMinutes(minutes))], Claims = [], Boards = [] };
        PlannedRun planned = Assert.Single(PlannedRuns.Of([entry], data)).Run;
        Assert.Equal(isIts ? Id : null, planned.Run);
        Assert.Equal(isIts, planned.WhyNot is null);
    }

    private static RunRecord Open(string board, string plan, string tag, DateTimeOffset at) => new()
    {
        Key = new RecordKey("e", 1),
        Board = board,
        OpenedAt = at,
        ReceivedAt = at,
        Opened = new RunOpened
        {
            RunId = Id, Tag = tag, PlanName = plan, PlanVersion = "1", PlanText = "{}", TargetPath = "/media/card", HostName = board, KernelRelease = "6", BootId = "b", AgentVersion = "1",
        },
    };
}
