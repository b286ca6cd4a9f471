using Cardassay.Collector.Boards;

namespace Cardassay.Collector.Tests.Boards;

public sealed class NightPlannerTests
{
    private static readonly DateTimeOffset Now = SimulatedNight.Evening;

    [Fact]
    public void Lay_SeveralRuns_AddsTimesAndTheirSpreadBySquares()
    {
        NightEntry[] entries = [Entry("a", 2, expected: 1000, bound: 1300), Entry("b", 1, expected: 500, bound: 900)];
        NightFit a = NightPlanner.Lay(entries, Now, [])["a"];
        Assert.Equal((Now, Now.AddSeconds(2500), 2u), (a.Begins, a.Ends, a.Fits));

        // By hand: runs a, b, a; spreads 300, 400, 300; the root of 90,000 + 160,000 + 90,000 is 583.1.
        Assert.Equal(2500 + 583.1, (a.EndsBy!.Value - Now).TotalSeconds, 1);
    }

    [Fact]
    public void Lay_ProofOnceForACard_TakesItsTimeInTheFirstRunAlone()
    {
        NightEntry[] entries = [Entry("a", 3, expected: 4600, bound: 4600) with { OnceSeconds = 3600 }];
        Assert.Equal(Now.AddSeconds(4600 + 1000 + 1000), NightPlanner.Lay(entries, Now, [])["a"].Ends);
        Assert.Equal(Now.AddSeconds(60 + 1000 + 1000), NightPlanner.Lay(entries, Now, [new NightRunning("a", 60)])["a"].Ends);
    }

    [Fact]
    public void Lay_RunGoingOn_ComesFirst_AndOneThatWasReplacedTakesItsTimeToo()
    {
        NightEntry[] entries = [Entry("a", 2, 1000, 1000)];
        Assert.Equal(Now.AddSeconds(1060), NightPlanner.Lay(entries, Now, [new NightRunning("a", 60)])["a"].Ends);
        NightFit replaced = NightPlanner.Lay(entries, Now, [new NightRunning("gone", 60)])["a"];
        Assert.Equal((Now.AddSeconds(60), Now.AddSeconds(2060)), (replaced.Begins, replaced.Ends));
    }

    [Fact]
    public void Lay_WindowLater_LeavesTheTimeBeforeToOthers()
    {
        NightEntry[] entries = [Entry("late", 1, 600, 600) with { NotBefore = Now.AddHours(2) }, Entry("now", 9, 600, 600)];
        IReadOnlyDictionary<string, NightFit> fits = NightPlanner.Lay(entries, Now, []);
        Assert.Equal(Now, fits["now"].Begins);
        Assert.Equal(Now.AddHours(2), fits["late"].Begins);
    }

    [Fact]
    public void Lay_EntryThatWaits_TakesNoTime()
    {
        NightEntry[] entries = [Entry("waits", 5, 600, 600) with { CanBegin = false }, Entry("b", 1, 600, 600)];
        IReadOnlyDictionary<string, NightFit> fits = NightPlanner.Lay(entries, Now, []);
        Assert.Equal((null, 0u), (fits["waits"].Begins, fits["waits"].Fits));
        Assert.Equal(Now, fits["b"].Begins);
    }

    /// <summary>Random nights: no run is laid out twice or past its time, and what is neither laid out nor dropped was not to be had.</summary>
    [Fact]
    public void Lay_RandomNights_KeepTheirBounds()
    {
        for (int seed = 0; seed < 2_000; seed++)
        {
            var random = new Random(seed);
            NightEntry[] entries = [.. Enumerable.Range(0, random.Next(1, 7)).Select(i =>
            {
                int expected = random.Next(1, 7200);
                return new NightEntry(
                    $"e{i}", (uint)random.Next(4), (uint)random.Next(5), new RunTime(expected, expected + random.Next(3600)),
                    random.Next(2) == 0 ? null : Now.AddSeconds(random.Next(-3600, 20_000)),
                    random.Next(2) == 0 ? null : Now.AddSeconds(random.Next(-3600, 40_000)),
                    random.Next(5) > 0);
            })];
            IReadOnlyDictionary<string, NightFit> fits = NightPlanner.Lay(entries, Now, []);
            foreach (NightEntry entry in entries)
            {
                NightFit fit = fits[entry.Id];
                Assert.True(fit.Fits + fit.Dropped == (entry.CanBegin ? entry.Left : 0), $"seed {seed}, {entry}: {fit}");
                Assert.True(fit.Begins is null || fit.Begins >= Now && (entry.NotBefore is null || fit.Begins >= entry.NotBefore), $"seed {seed}, {entry}: {fit}");
                Assert.True(fit.Ends is null || entry.StopBy is null || fit.Ends <= entry.StopBy, $"seed {seed}, {entry}: {fit}");
                Assert.True(fit.EndsBy is null || fit.EndsBy >= fit.Ends, $"seed {seed}, {entry}: {fit}");
            }
        }
    }

    [Fact]
    public void Next_BesideARun_IsTheOneWhoseTurnItIsOrNone()
    {
        NightEntry running = On("a", "mmcblk1");
        Assert.Equal("b", NightPlanner.Next([running, On("b", "mmcblk2")], Now, [running], Tested)?.Id);
        Assert.Null(NightPlanner.Next([running, On("b", "mmcblk2")], Now, [running])); // not tested
        Assert.Null(NightPlanner.Next([running, On("b", "mmcblk3")], Now, [running], Tested)); // another slot
        Assert.Null(NightPlanner.Next([running, On("b", "mmcblk1")], Now, [running], Tested)); // never two on one
        Assert.Null(NightPlanner.Next([running, On("c", "mmcblk2"), On("d", "mmcblk2")], Now, [running, On("b", "mmcblk2")], Tested)); // never three

        // One that has to be alone waits, and what could run beside does not overtake it, or it would wait all night.
        Assert.Null(NightPlanner.Next([running, On("alone", null), On("b", "mmcblk2")], Now, [running], Tested));
        Assert.Null(NightPlanner.Next([On("b", "mmcblk2")], Now, [On("alone", null)], Tested));

        // Cards of the busy slot hold up no other slot.
        Assert.Equal("b", NightPlanner.Next([running, On("second", "mmcblk1"), On("b", "mmcblk2")], Now, [running], Tested)?.Id);
    }

    [Fact]
    public void Lay_TwoSlotsAtOnce_TakeHalfTheNightAndSpreadEachByItsOwn()
    {
        NightEntry[] entries = [On("a", "mmcblk1", 2), On("b", "mmcblk2", 2)];
        IReadOnlyDictionary<string, NightFit> at = NightPlanner.Lay(entries, Now, [], Tested);
        IReadOnlyDictionary<string, NightFit> one = NightPlanner.Lay(entries, Now, []);
        Assert.Equal((Now, Now.AddSeconds(2000)), (at["b"].Begins, at["b"].Ends));
        Assert.Equal((Now.AddSeconds(1000), Now.AddSeconds(4000)), (one["b"].Begins, one["b"].Ends));
        Assert.Equal(2000 + Math.Sqrt(2 * 300 * 300), (at["b"].EndsBy!.Value - Now).TotalSeconds, 1);
        Assert.Equal(4000 + Math.Sqrt(4 * 300 * 300), (one["b"].EndsBy!.Value - Now).TotalSeconds, 1);
        Assert.Equal(Now.AddSeconds(500 + 1000), NightPlanner.Lay(entries, Now, [new("a", 500), new("b", 700)], Tested)["a"].Ends);
    }

    /// <summary>Random nights on three slots of which two were tested: never two runs on one slot nor three at once, none past its time, and never fewer runs than one at a time.</summary>
    [Fact]
    public void Lay_RandomNightsOfSeveralSlots_KeepTheirBounds()
    {
        int more = 0;
        for (int seed = 0; seed < 2_000; seed++)
        {
            var random = new Random(seed);
            NightEntry[] entries = [.. Enumerable.Range(0, random.Next(1, 7)).Select(i =>
            {
                int expected = random.Next(1, 7200);
                string? disk = random.Next(5) == 0 ? null : $"mmcblk{random.Next(1, 4)}";
                return new NightEntry($"e{i}", 0, 1, new RunTime(expected, expected), null, random.Next(2) == 0 ? null : Now.AddSeconds(random.Next(20_000)), true) { Disk = disk };
            })];
            IReadOnlyDictionary<string, NightFit> fits = NightPlanner.Lay(entries, Now, [], Tested);
            (NightEntry Entry, DateTimeOffset Begins, DateTimeOffset Ends)[] runs = [.. entries.Where(e => fits[e.Id].Fits > 0).Select(e => (e, fits[e.Id].Begins!.Value, fits[e.Id].Ends!.Value))];
            Assert.All(entries, e => Assert.Equal(1u, fits[e.Id].Fits + fits[e.Id].Dropped));
            foreach ((NightEntry entry, DateTimeOffset begins, DateTimeOffset ends) in runs)
            {
                Assert.True(entry.StopBy is null || ends <= entry.StopBy, $"seed {seed}, {entry}");
                NightEntry[] meanwhile = [.. runs.Where(r => r.Entry != entry && r.Begins <= begins && begins < r.Ends).Select(r => r.Entry)];
                Assert.True(meanwhile.Length <= 1 && meanwhile.All(other => Tested(other, entry)), $"seed {seed}, {entry} beside {string.Join(", ", meanwhile.Select(m => m.ToString()))}");
                more += meanwhile.Length;
            }
        }

        Assert.True(more > 500, $"only {more} runs beside another"); // or it would have tried nothing
    }

    /// <summary>Slots 1 and 2 were tested.</summary>
    private static bool Tested(NightEntry a, NightEntry b) => a.Disk != b.Disk && a.Disk is "mmcblk1" or "mmcblk2" && b.Disk is "mmcblk1" or "mmcblk2" && a.Disk != b.Disk;

    private static NightEntry On(string id, string? disk, uint left = 1) => Entry(id, left, 1000, 1300) with { Disk = disk };

    private static NightEntry Entry(string id, uint left, double expected, double bound) => new(id, 0, left, new RunTime(expected, bound), null, null, true);
}
