using Cardassay.Collector.Boards;

namespace Cardassay.Collector.Tests.Boards;

public sealed class NightPlannerTests
{
    private static readonly DateTimeOffset Now = SimulatedNight.Evening;

    [Fact]
    public void Lay_SeveralRuns_AddsTimesAndTheirSpreadBySquares()
    {
        NightEntry[] entries = [Entry("a", 2, expected: 1000, bound: 1300), Entry("b", 1, expected: 500, bound: 900)];
        NightFit a = NightPlanner.Lay(entries, Now, null, 0)["a"];
        Assert.Equal((Now, Now.AddSeconds(2500), 2u), (a.Begins, a.Ends, a.Fits));

        // By hand: runs a, b, a; spreads 300, 400, 300; the root of 90,000 + 160,000 + 90,000 is 583.1.
        Assert.Equal(2500 + 583.1, (a.EndsBy!.Value - Now).TotalSeconds, 1);
    }

    [Fact]
    public void Lay_ProofOnceForACard_TakesItsTimeInTheFirstRunAlone()
    {
        NightEntry[] entries = [Entry("a", 3, expected: 4600, bound: 4600) with { OnceSeconds = 3600 }];
        Assert.Equal(Now.AddSeconds(4600 + 1000 + 1000), NightPlanner.Lay(entries, Now, null, 0)["a"].Ends);
        Assert.Equal(Now.AddSeconds(60 + 1000 + 1000), NightPlanner.Lay(entries, Now, "a", 60)["a"].Ends);
    }

    [Fact]
    public void Lay_RunGoingOn_ComesFirst_AndOneThatWasReplacedTakesItsTimeToo()
    {
        NightEntry[] entries = [Entry("a", 2, 1000, 1000)];
        Assert.Equal(Now.AddSeconds(1060), NightPlanner.Lay(entries, Now, "a", 60)["a"].Ends);
        NightFit replaced = NightPlanner.Lay(entries, Now, "gone", 60)["a"];
        Assert.Equal((Now.AddSeconds(60), Now.AddSeconds(2060)), (replaced.Begins, replaced.Ends));
    }

    [Fact]
    public void Lay_WindowLater_LeavesTheTimeBeforeToOthers()
    {
        NightEntry[] entries = [Entry("late", 1, 600, 600) with { NotBefore = Now.AddHours(2) }, Entry("now", 9, 600, 600)];
        IReadOnlyDictionary<string, NightFit> fits = NightPlanner.Lay(entries, Now, null, 0);
        Assert.Equal(Now, fits["now"].Begins);
        Assert.Equal(Now.AddHours(2), fits["late"].Begins);
    }

    [Fact]
    public void Lay_EntryThatWaits_TakesNoTime()
    {
        NightEntry[] entries = [Entry("waits", 5, 600, 600) with { CanBegin = false }, Entry("b", 1, 600, 600)];
        IReadOnlyDictionary<string, NightFit> fits = NightPlanner.Lay(entries, Now, null, 0);
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
            IReadOnlyDictionary<string, NightFit> fits = NightPlanner.Lay(entries, Now, null, 0);
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

    private static NightEntry Entry(string id, uint left, double expected, double bound) => new(id, 0, left, new RunTime(expected, bound), null, null, true);
}
