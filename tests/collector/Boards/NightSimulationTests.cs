using Cardassay.Collector.Boards;
using Cardassay.Collector.Report;
using Cardassay.Trials;

namespace Cardassay.Collector.Tests.Boards;

/// <summary>Whole nights with an injected clock.</summary>
public sealed class NightSimulationTests
{
    private static readonly DateTimeOffset Evening = SimulatedNight.Evening;
    private static readonly DateOnly Night = new(2031, 3, 13);
    private readonly SimulatedNight _night = new();

    [Fact]
    public async Task Cards_OfOneBoard_TakeTurnsInTheOrderTheyWereSet()
    {
        SimulatedBoard board = _night.Board("mole-1");
        Cards(board, "T-01", "T-02");
        _night.Schedule("mole-1", "/dev/mmcblk0", "T-01", 2);
        _night.Schedule("mole-1", "/dev/mmcblk1", "T-02", 2);
        await _night.RunForAsync(6);
        Assert.Equal(["T-01", "T-02", "T-01", "T-02"], board.Begun.Select(b => b.Card));
        Assert.All(_night.Shown.Entries, e => Assert.Equal("done", e.State));
    }

    [Fact]
    public async Task TimeRunsOut_RepetitionsAreDroppedBeforeFirstRuns_AndTheReportSaysSo()
    {
        SimulatedBoard board = _night.Board("mole-1");
        Cards(board, "T-01", "T-02", "T-03");
        V1.ScheduleEntry[] entries = [.. Enumerable.Range(0, 3).Select(i =>
            _night.Schedule("mole-1", $"/dev/mmcblk{i}", $"T-0{i + 1}", 2, e => e.StopByUnixNs = Ns(Evening.AddHours(4.5))))];
        await _night.RunForAsync(0.5);
        V1.NightLine[] lines = [.. _night.Shown.Night];
        Assert.Equal([2u, 1u, 1u], lines.Select(l => l.RunsFit)); // 4.5 hours hold four runs of an hour
        Assert.Equal([0u, 1u, 1u], lines.Select(l => l.RunsDropped));

        await _night.RunForAsync(6);
        Assert.Equal(["T-01", "T-02", "T-03", "T-01"], board.Begun.Select(b => b.Card));
        Assert.Equal(["done", "time over", "time over"], entries.Select(_night.State));
        (DateOnly Night, bool Open, PlannedRun Run)[] missing = [.. _night.Planned().Where(p => p.Run.Run is null)];
        Assert.Equal(["T-02", "T-03"], missing.Select(p => p.Run.Card));
        Assert.All(missing, m => Assert.Equal((Night, false, "1 of 2 runs were not made: the time to stop came first."), (m.Night, m.Open, m.Run.WhyNot)));
        Assert.Equal(6, _night.Planned().Count);
    }

    [Fact]
    public async Task TimeRunsOut_AShorterRunTakesThePlaceOfOneThatNoLongerFits()
    {
        SimulatedBoard board = _night.Board("mole-1");
        Cards(board, "T-01", "T-02");
        board.Estimate = (7200, 7200);
        board.Runs = (entry, _) => (TimeSpan.FromHours(entry.Target.StartsWith("/dev/", StringComparison.Ordinal) ? 2 : 0.5), null);
        V1.ScheduleEntry longRun = _night.Schedule("mole-1", "/dev/mmcblk0", "T-01", 1, e => e.StopByUnixNs = Ns(Evening.AddHours(1.5)));
        _night.Schedule("mole-1", "/dev/mmcblk1", "T-02", 1, e => e.StopByUnixNs = Ns(Evening.AddHours(3)));
        await _night.RunForAsync(4);
        Assert.Equal(["T-02"], board.Begun.Select(b => b.Card));
        Assert.Equal("time over", _night.State(longRun));
    }

    [Fact]
    public async Task Window_RunBeginsAtItsFirstMomentAndNoLaterThanItStillFits()
    {
        SimulatedBoard board = _night.Board("mole-1");
        Cards(board, "T-01");
        DateTimeOffset from = Evening.AddHours(2);
        _night.Schedule("mole-1", "/dev/mmcblk0", "T-01", 5, e => (e.NotBeforeUnixNs, e.StopByUnixNs) = (Ns(from), Ns(from.AddHours(1))));
        await _night.RunForAsync(8);
        Assert.Equal([from], board.Begun.Select(b => b.Begun)); // exactly one run of an hour fits, and it begins on the dot
    }

    [Fact]
    public async Task Window_OneSecondTooShort_NothingBegins()
    {
        SimulatedBoard board = _night.Board("mole-1");
        Cards(board, "T-01");
        V1.ScheduleEntry entry = _night.Schedule("mole-1", "/dev/mmcblk0", "T-01", 1, e =>
            (e.NotBeforeUnixNs, e.StopByUnixNs) = (Ns(Evening.AddHours(2)), Ns(Evening.AddHours(3).AddSeconds(-1))));
        await _night.RunForAsync(8);
        Assert.Empty(board.Begun);
        Assert.Equal("time over", _night.State(entry));
    }

    [Fact]
    public async Task BoardThatNeverComes_IsNamedInTheMorning_AndCostsNoOtherBoard()
    {
        SimulatedBoard here = _night.Board("mole-1");
        Cards(here, "T-01");
        _night.Board("mole-2").IsOn = false;
        _night.Schedule("mole-1", "/dev/mmcblk0", "T-01", 3, e => e.StopByUnixNs = Ns(Evening.AddHours(10)));
        _night.Schedule("mole-2", "/dev/mmcblk0", "T-09", 2, e => e.StopByUnixNs = Ns(Evening.AddHours(10)));
        await _night.RunForAsync(11);
        Assert.Equal(3, here.Begun.Count);
        PlannedRun[] missing = [.. _night.Planned().Where(p => p.Run.Run is null).Select(p => p.Run)];
        Assert.Equal(2, missing.Length);
        Assert.All(missing, m => Assert.Equal("2 of 2 runs were not made: board mole-2 did not report after it was scheduled.", m.WhyNot));
    }

    [Fact]
    public async Task PowerLoss_InterruptedRunIsKeptAndMadeAgain()
    {
        SimulatedBoard board = _night.Board("mole-1");
        Cards(board, "T-01");
        V1.ScheduleEntry entry = _night.Schedule("mole-1", "/dev/mmcblk0", "T-01");
        await _night.RunForAsync(0.5);
        board.IsOn = false;
        await _night.RunForAsync(0.1);
        board.CutPower();
        board.IsOn = true;
        await _night.RunForAsync(3);

        Assert.Equal(2, board.Begun.Count);
        Assert.Equal([RunOutcome.Interrupted, RunOutcome.Completed], _night.Entry(entry).Attempts.Select(a => a.Outcome));
        Assert.Equal("done", _night.State(entry));
        PlannedRun planned = Assert.Single(_night.Planned()).Run;
        Assert.Equal(board.Begun[1].Run, planned.Run);
        Assert.Equal([board.Begun[0].Run], planned.MadeAgain);
    }

    [Fact]
    public async Task ThreeFailuresAtOneStep_SkipTheCardAndNoOther()
    {
        SimulatedBoard board = _night.Board("mole-1");
        Cards(board, "T-01", "T-02");
        board.Runs = (entry, _) => (TimeSpan.FromMinutes(10), entry.Tag == "T-01" ? "randomWrite" : null);
        V1.ScheduleEntry bad = _night.Schedule("mole-1", "/dev/mmcblk0", "T-01", 4);
        V1.ScheduleEntry good = _night.Schedule("mole-1", "/dev/mmcblk1", "T-02", 4);
        await _night.RunForAsync(6);
        Assert.Equal(3, board.Begun.Count(b => b.Card == "T-01"));
        Assert.Equal("T-01", board.Begun[0].Card);
        Assert.Equal("T-02", board.Begun[1].Card); // a failed run has had its turn
        Assert.Equal(("skipped", "done"), (_night.State(bad), _night.State(good)));
        Assert.StartsWith("Skipped after 3 runs that ended at randomWrite; the last said:", _night.Entry(bad).WhyGivenUp, StringComparison.Ordinal);

        // Three of its four planned runs are there as failed ones, the fourth never began.
        PlannedRun[] planned = [.. _night.Planned().Select(p => p.Run).Where(r => r.Card == "T-01")];
        Assert.Equal(4, planned.Length);
        Assert.Equal(3, planned.Count(r => r.Run is not null));
        Assert.Contains("Skipped", Assert.Single(planned, r => r.Run is null).WhyNot, StringComparison.Ordinal);
    }

    [Fact]
    public async Task FailuresAtSeveralSteps_SkipOnlyAfterSix_AndASuccessForgivesAll()
    {
        SimulatedBoard board = _night.Board("mole-1");
        Cards(board, "T-01");
        string?[] script = ["randomRead", "randomWrite", "randomRead", "randomWrite", null, "a", "b", "c", "a", "b", "c", null];
        board.Runs = (_, i) => (TimeSpan.FromMinutes(10), script[i]);
        V1.ScheduleEntry entry = _night.Schedule("mole-1", "/dev/mmcblk0", "T-01", 3);
        await _night.RunForAsync(6);
        Assert.Equal(11, board.Begun.Count);
        Assert.Equal("skipped", _night.State(entry));
        Assert.Contains("several steps", _night.Entry(entry).WhyGivenUp, StringComparison.Ordinal);
    }

    [Fact]
    public async Task StopOfTheService_IsNoFailure()
    {
        SimulatedBoard board = _night.Board("mole-1");
        Cards(board, "T-01");
        V1.ScheduleEntry entry = _night.Schedule("mole-1", "/dev/mmcblk0", "T-01");
        ScheduledEntry known = _night.Entry(entry);
        for (uint i = 1; i <= 4; i++)
        {
            known.Add(new ScheduleAttempt(i, false, RunOutcome.Cancelled, "randomRead", "stopped", null, 1, 0, Evening));
        }

        await _night.RunForAsync(2);
        Assert.Equal("done", _night.State(entry));
        Assert.Equal(5u, known.Attempts[^1].Number);
    }

    [Fact]
    public async Task EmptySlot_NeverHoldsUpOtherCards_AndIsUsedAsSoonAsACardIsIn()
    {
        SimulatedBoard board = _night.Board("mole-1");
        board.Insert("mmcblk1", "cid-T-02", 2);
        _night.Schedule("mole-1", "/dev/mmcblk0", null);
        _night.Schedule("mole-1", "/dev/mmcblk1", "T-02", 2);
        await _night.RunForAsync(1);
        Assert.Equal("There is no card in /dev/mmcblk0.", _night.Shown.Night[0].WaitsFor);
        await _night.RunForAsync(2);
        Assert.Equal(["T-02", "T-02"], board.Begun.Select(b => b.Card));
        board.Insert("mmcblk0", "cid-new", 3);
        await _night.RunForAsync(2);
        Assert.Equal(["T-02", "T-02", ""], board.Begun.Select(b => b.Card)); // unknown: measured all the same
        Assert.All(_night.Shown.Entries, e => Assert.Equal("done", e.State));
    }

    [Fact]
    public async Task CollectorRestartedInTheNight_RepeatsNothingAndForgetsNothing()
    {
        SimulatedBoard board = _night.Board("mole-1");
        Cards(board, "T-01", "T-02");
        board.Runs = (entry, _) => (TimeSpan.FromMinutes(30), entry.Tag == "T-02" ? "randomRead" : null);
        _night.Schedule("mole-1", "/dev/mmcblk0", "T-01", 5);
        V1.ScheduleEntry bad = _night.Schedule("mole-1", "/dev/mmcblk1", "T-02", 5);
        for (int i = 0; i < 12; i++)
        {
            await _night.RunForAsync(0.4);
            _night.RestartCollector();
        }

        await _night.RunForAsync(1);
        Assert.Equal(5, board.Begun.Count(b => b.Card == "T-01"));
        Assert.Equal(3, board.Begun.Count(b => b.Card == "T-02"));
        Assert.Equal("skipped", _night.State(bad));
    }

    [Fact]
    public async Task Until_Settled_RunsOnceANightAndEndsWhenTheAnalysisSaysSo()
    {
        SimulatedBoard board = _night.Board("mole-1");
        Cards(board, "T-01");
        _night.IsSettled = _ => board.Begun.Count >= 4;
        V1.ScheduleEntry entry = _night.Schedule("mole-1", "/dev/mmcblk0", "T-01", 30, e => e.UntilSettled = true);
        await _night.RunForAsync(10);
        Assert.Single(board.Begun); // a second one of the night would say nothing of the card
        Assert.Contains("another night's", _night.Shown.Night.Single().WaitsFor, StringComparison.Ordinal);
        await _night.RunForAsync(110);
        Assert.Equal(4, board.Begun.Count);
        Assert.Equal(4, board.Begun.Select(b => Cardassay.Trials.Night.Of(b.Begun)).Distinct().Count());
        Assert.Equal("settled", _night.State(entry));
    }

    [Fact]
    public async Task Until_Time_RepeatsAsLongAsARunFits()
    {
        SimulatedBoard board = _night.Board("mole-1");
        Cards(board, "T-01");
        V1.ScheduleEntry entry = _night.Schedule("mole-1", "/dev/mmcblk0", "T-01", 10_000, e => (e.UntilStop, e.StopByUnixNs) = (true, Ns(Evening.AddHours(5.2))));
        await _night.RunForAsync(10);
        Assert.Equal(5, board.Begun.Count);
        Assert.Equal("done", _night.State(entry));
        Assert.Empty(_night.Planned().Where(p => p.Run.Run is null));
    }

    [Fact]
    public async Task HungBoard_KeepsItsOwnNightOnly()
    {
        SimulatedBoard hung = _night.Board("mole-1");
        SimulatedBoard other = _night.Board("mole-2");
        Cards(hung, "T-01");
        Cards(other, "T-02");
        hung.Runs = (_, _) => (TimeSpan.FromDays(3), null);
        _night.Schedule("mole-1", "/dev/mmcblk0", "T-01");
        V1.ScheduleEntry fine = _night.Schedule("mole-2", "/dev/mmcblk0", "T-02", 5);
        await _night.RunForAsync(8);
        Assert.Equal("done", _night.State(fine));
    }

    [Fact]
    public async Task Card_NamedByTagOnly_IsFoundInWhicheverSlotItIs()
    {
        SimulatedBoard board = _night.Board("mole-1");
        Cards(board, "T-01", "T-02");
        Give("T-01", "cid-T-01");
        Give("T-02", "cid-T-02");
        _night.Schedule("mole-1", "", "T-02");
        await _night.RunForAsync(2);
        Assert.Equal(["T-02"], board.Begun.Select(b => b.Card));
        Assert.Equal("done", Assert.Single(_night.Shown.Entries).State);
    }

    [Fact]
    public async Task Card_OtherThanTheOneExpected_IsNotMeasuredUnderItsTag()
    {
        SimulatedBoard board = _night.Board("mole-1");
        Give("T-01", "cid-T-01");
        board.Insert("mmcblk0", "cid-T-05", 1);
        _night.Schedule("mole-1", "/dev/mmcblk0", "T-01");
        await _night.RunForAsync(2);
        Assert.Empty(board.Begun);
        Assert.Equal("mmcblk0 of mole-1 holds cid-T-05, but T-01 is cid-T-01; put T-01 in.", _night.Shown.Night[0].WaitsFor);
        board.Insert("mmcblk0", "cid-T-01", 2);
        await _night.RunForAsync(2);
        Assert.Equal(["T-01"], board.Begun.Select(b => b.Card));
    }

    [Fact]
    public async Task Withdrawn_EntryIsNotPlannedAnyMore_AndAlsoKeepsTheOlder()
    {
        SimulatedBoard board = _night.Board("mole-1");
        Cards(board, "T-01");
        _night.Schedule("mole-1", "/dev/mmcblk0", "T-01");
        _night.Schedule("mole-1", "/dev/mmcblk0", "T-01", 1, e => e.KeepOthers = true);
        Assert.Equal(2, _night.Shown.Entries.Count);
        _night.Schedule("mole-1", "/dev/mmcblk0", "T-01", 3);
        Assert.Single(_night.Shown.Entries);
        await _night.RunForAsync(5);
        Assert.Equal(3, board.Begun.Count);
        Assert.Equal(3, _night.Planned().Count);
    }

    private static long Ns(DateTimeOffset moment) => (moment - DateTimeOffset.UnixEpoch).Ticks * 100;

    private static void Cards(SimulatedBoard board, params string[] tags)
    {
        for (int i = 0; i < tags.Length; i++)
        {
            board.Insert($"mmcblk{i}", $"cid-{tags[i]}", i + 1);
        }
    }

    private void Give(string tag, string identity) => _night.Cards.Learn(new V1.TagGiven
    {
        Tag = tag, Board = "elsewhere", DiskName = "mmcblk0", Identity = identity, IdentityFromRegisters = true, DiskSequence = 1,
    });
}
