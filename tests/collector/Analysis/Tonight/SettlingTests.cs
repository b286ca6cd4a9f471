using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Analysis.Ranking;
using Cardassay.Collector.Analysis.Tonight;
using Cardassay.Fixtures;

namespace Cardassay.Collector.Tests.Analysis.Tonight;

public class SettlingTests
{
    private const string Tag = "T0012";

    [Fact]
    public void IsSettled_WithEveryFurtherNight_WhenItNarrowsTheRankByOnePlaceAtTheMost()
    {
        // Cards half a percent apart: the first nights narrow the rank of the one in the middle by several places, later ones hardly.
        MasterData all = Crowd(nights: 12, perNight: 1);
        bool[] settled = [.. Enumerable.Range(1, 12).Select(n => IsSettled(First(all, n)))];
        int[] widths = [.. Enumerable.Range(1, 12).Select(n => Row(First(all, n)) is var row ? row.Worst - row.Best : 0)];
        Assert.Equal([false, false], settled.Take(2)); // provisional
        Assert.Equal(Enumerable.Range(2, 10).Select(i => widths[i - 1] - widths[i] <= 1), settled.Skip(2));
        Assert.Contains(false, settled.Skip(2));
        Assert.Contains(true, settled);
    }

    [Fact]
    public void IsSettled_SecondRunOfANight_IsNotTakenForANightThatTaughtNothing()
    {
        MasterData all = Crowd(nights: 12, perNight: 2);
        int n = Enumerable.Range(3, 9).First(n => !IsSettled(First(all, 2 * n)));
        MasterData once = First(all, 2 * n - 1), twice = First(all, 2 * n);
        Assert.Equal(Row(once).Nights, Row(twice).Nights);
        Assert.InRange(Row(once).Worst - Row(once).Best - (Row(twice).Worst - Row(twice).Best), -1, 1); // by itself it narrows nothing
        Assert.False(IsSettled(twice));
    }

    [Fact]
    public void IsSettled_NeverMeasured_IsNot() => Assert.False(Settling.IsSettled(Crowd(3, 1), Analyser.Run(Crowd(3, 1), UseProfile.SystemDisk), "T-99"));

    private static MasterData Crowd(int nights, int perNight) => new SyntheticLaboratory
    {
        Cards = 24, RunsPerCard = nights * perNight, RunsPerNight = perNight, Specimens = 0, Noise = 0.02, Effect = d => Math.Pow(1.005, d.Card),
    }.Build();

    /// <summary>Only so many runs of the one card; all of the others.</summary>
    private static MasterData First(MasterData data, int runs)
    {
        HashSet<RecordKey> kept = [.. data.Runs.Where(r => r.Opened.Tag == Tag).Take(runs).Select(r => r.Key)];
        return data with { Runs = [.. data.Runs.Where(r => r.Opened.Tag != Tag || kept.Contains(r.Key))] };
    }

    private static bool IsSettled(MasterData data) => Settling.IsSettled(data, Analyser.Run(data, UseProfile.SystemDisk), Tag);

    private static RankedCard Row(MasterData data) => Analyser.Run(data, UseProfile.SystemDisk).Rankings[0].Cards.Single(c => c.Name == Tag);
}
