using Cardassay.Collector.Boards;
using Cardassay.Trials;

namespace Cardassay.Collector.Tests.Boards;

/// <summary>Two slots at once only where a test that still holds has shown it; else one at a time, as always.</summary>
public sealed class SlotLanesTests
{
    private static readonly TrialKind[] s_reads = [TrialKind.RandomRead, TrialKind.SequentialRead];
    private static readonly TrialKind[] s_all = [.. s_reads, TrialKind.SynchronousWrite, TrialKind.SequentialWrite];
    private readonly SimulatedNight _night = new();

    [Fact]
    public async Task Night_SlotsThatDoNotDisturbEachOther_AreMeasuredAtOnce()
    {
        SimulatedBoard board = Board(Pair(s_all));
        await _night.RunForAsync(0.1);
        Assert.Equal(2, board.MostAtOnce);
        Assert.Equal(["running", "running"], _night.Shown.Entries.Select(e => e.State));
        await _night.RunForAsync(2.1);
        Assert.Equal(4, board.Begun.Count); // two hours hold two runs of an hour on each
        Assert.All(_night.Shown.Entries, e => Assert.Equal(("done", 2u), (e.State, e.RunsDone)));
    }

    [Theory]
    [InlineData("no test")]
    [InlineData("outdated")]
    [InlineData("disturb")]
    [InlineData("not shown")]
    [InlineData("reads alone")]
    [InlineData("half a test")]
    [InlineData("other slots")]
    [InlineData("a proof")]
    [InlineData("nonsense")]
    public async Task Night_WhateverIsNotShown_IsMeasuredOneAtATime(string what)
    {
        V1.SlotPair pair = Pair(what == "reads alone" ? s_reads : s_all);
        switch (what)
        {
            case "outdated": pair.Outdated = "It was made under another kernel."; break;
            case "disturb": pair.Comparisons[3].MeanLogRatio = -0.3; break;
            case "not shown": pair.Comparisons[3].SdLogRatio = 0.2; break;
            case "half a test": pair.Comparisons.RemoveAt(7); break;
            case "other slots": pair.OtherDiskName = "mmcblk9"; break;
            case "nonsense": pair.Comparisons[3].MeanLogRatio = double.NaN; break;
        }

        SimulatedBoard board = Board(what == "no test" ? null : pair);
        board.ProofSeconds = what == "a proof" ? 600 : 0;
        await _night.RunForAsync(4.5);
        Assert.Equal((1, 4), (board.MostAtOnce, board.Begun.Count));
    }

    [Fact]
    public async Task Night_ReadsAloneWereTried_PlansThatOnlyReadAreMeasuredAtOnce()
    {
        SimulatedBoard board = Board(Pair(s_reads));
        board.Writes = 0;
        await _night.RunForAsync(2.2);
        Assert.Equal((2, 4), (board.MostAtOnce, board.Begun.Count));
    }

    [Fact]
    public async Task Power_IsCutDuringTwoRuns_BothAreMadeAgain()
    {
        SimulatedBoard board = Board(Pair(s_all));
        await _night.RunForAsync(0.5);
        board.CutPower();
        await _night.RunForAsync(2.2);
        Assert.All(_night.Shown.Entries, e => Assert.Equal(("done", 2u, 1u), (e.State, e.RunsDone, e.RunsFailed)));
        Assert.Equal(6, board.Begun.Count);
    }

    [Fact]
    public async Task Collector_StartedAnewDuringTwoRuns_GivesOutNoThird()
    {
        SimulatedBoard board = Board(Pair(s_all));
        await _night.RunForAsync(0.5);
        _night.RestartCollector();
        await _night.RunForAsync(0.1);
        Assert.Equal((2, 2), (board.MostAtOnce, board.Begun.Count));
    }

    [Fact]
    public void Sentences_SayWhyTwoOrOne()
    {
        static string Of(V1.SlotPair? pair)
        {
            var presence = new V1.Presence { Slots = { new V1.Slot { DiskName = "mmcblk0" }, new V1.Slot { DiskName = "mmcblk1" } } };
            presence.SlotPairs.AddRange(pair is null ? [] : [pair]);
            return Assert.Single(SlotLanes.Sentences(presence));
        }

        Assert.Empty(SlotLanes.Sentences(new V1.Presence { Slots = { new V1.Slot() } }));
        Assert.StartsWith("One card at a time: whether two slots disturb each other was not tested", Of(null), StringComparison.Ordinal);
        Assert.StartsWith("mmcblk0 and mmcblk1 at once: they do not disturb each other. Of 32 comparisons", Of(Pair(s_all)), StringComparison.Ordinal);
        Assert.StartsWith("mmcblk0 and mmcblk1 at once with plans that only read", Of(Pair(s_reads)), StringComparison.Ordinal);
        V1.SlotPair old = Pair(s_all);
        old.Outdated = "It was made under kernel 6.1, and this is 6.6; test again.";
        Assert.Equal("mmcblk0 and mmcblk1 one at a time: the test of the slots holds no more. It was made under kernel 6.1, and this is 6.6; test again.", Of(old));
        V1.SlotPair slow = Pair(s_reads);
        slow.Comparisons[0].MeanLogRatio = Math.Log(0.5);
        Assert.Contains("one at a time: they disturb each other. random read in mmcblk0 beside random read in mmcblk1: -50.0 %", Of(slow), StringComparison.Ordinal);
    }

    [Fact]
    public void Limits_OfWhatABoardSaysOfRunsAndPairs()
    {
        var presence = new V1.Presence();
        presence.SlotPairs.AddRange(Enumerable.Repeat(Pair(s_all), PresenceLimits.MaxPairs));
        presence.Beside.AddRange(Enumerable.Repeat(new V1.Progress(), PresenceLimits.MaxBeside));
        Assert.Null(PresenceLimits.WhyNot(presence));
        V1.Presence With(Action<V1.Presence> more)
        {
            V1.Presence changed = presence.Clone();
            more(changed);
            return changed;
        }

        Assert.Contains("slot_pairs has 65 pairs", PresenceLimits.WhyNot(With(p => p.SlotPairs.Add(new V1.SlotPair()))), StringComparison.Ordinal);
        Assert.Contains("beside has 9 runs", PresenceLimits.WhyNot(With(p => p.Beside.Add(new V1.Progress()))), StringComparison.Ordinal);
        Assert.Contains("slot_pairs.comparisons has 257", PresenceLimits.WhyNot(With(p => p.SlotPairs[0].Comparisons.AddRange(Enumerable.Repeat(new V1.SlotComparison(), 225)))), StringComparison.Ordinal);
        Assert.Contains("slot_pairs.disk_name", PresenceLimits.WhyNot(With(p => p.SlotPairs[0].DiskName = new string('a', 257))), StringComparison.Ordinal);
        Assert.Contains("beside.step", PresenceLimits.WhyNot(With(p => p.Beside[0] = new V1.Progress { Step = new string('a', 4097) })), StringComparison.Ordinal);
    }

    private SimulatedBoard Board(V1.SlotPair? pair)
    {
        SimulatedBoard board = _night.Board("mole-1");
        board.Insert("mmcblk0", "sd-1", 1);
        board.Insert("mmcblk1", "sd-2", 2);
        board.Pairs.AddRange(pair is null ? [] : [pair]);
        _night.Schedule("mole-1", "/dev/mmcblk0", "T-01", 2);
        _night.Schedule("mole-1", "/dev/mmcblk1", "T-02", 2);
        return board;
    }

    /// <summary>Every comparison within half a percent.</summary>
    private static V1.SlotPair Pair(TrialKind[] kinds)
    {
        var pair = new V1.SlotPair { DiskName = "mmcblk0", OtherDiskName = "mmcblk1", KernelRelease = "6.6" };
        pair.Comparisons.AddRange(from other in (bool[])[false, true] from kind in kinds from beside in kinds select new V1.SlotComparison
        {
            Other = other, Kind = (uint)kind, BesideKind = (uint)beside, Rounds = 12, MeanLogRatio = -0.001, SdLogRatio = 0.005, SecondsTogether = 24, SecondsAlone = 24,
        });
        return pair;
    }
}
