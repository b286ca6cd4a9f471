using Cardassay.Judging;
using Cardassay.Trials;

namespace Cardassay.SharedCore.Tests.Judging;

/// <summary>Rounds drawn with a seed: how often the answer is wrong, and that no half of a test passes for the whole.</summary>
public sealed class SlotsTogetherTests
{
    private const int Rigs = 1_000;
    private static readonly TrialKind[] s_reads = [TrialKind.RandomRead, TrialKind.SequentialRead];
    private static readonly TrialKind[] s_all = [.. s_reads, TrialKind.SynchronousWrite, TrialKind.SequentialWrite];

    /// <summary>How the figures of one round scatter.</summary>
    public enum Noise
    {
        Normal,
        HeavyTails,
        Drift,
        Bursts,
    }

    /// <summary>The worst rig that counts as disturbed: one comparison of eight is 3 % slower, the others are not touched at all.</summary>
    [Theory]
    [InlineData(Noise.Normal, 12)]
    [InlineData(Noise.HeavyTails, 12)]
    [InlineData(Noise.Drift, 12)]
    [InlineData(Noise.Bursts, 12)]
    [InlineData(Noise.Normal, 30)]
    [InlineData(Noise.HeavyTails, 30)]
    [InlineData(Noise.Drift, 30)]
    [InlineData(Noise.Bursts, 30)]
    public void Judge_OneComparisonSlowerByTheMargin_IsCalledUndisturbedInAtMostFivePercent(Noise noise, int rounds)
    {
        int wrong = Count(noise, rounds, -0.03, SlotsWord.DoNotDisturb, 2_001);
        Assert.InRange((double)wrong / Rigs, 0, 0.05);
    }

    /// <summary>The other error: a rig without any disturbance is never called disturbing in more than 5 %, and mostly called free of it.</summary>
    [Theory]
    [InlineData(Noise.Normal, 0.9)]
    [InlineData(Noise.HeavyTails, 0.4)]
    [InlineData(Noise.Drift, 0.9)]
    [InlineData(Noise.Bursts, 0)] // what scatters so much needs more rounds, and is told so
    public void Judge_NoDisturbance_IsShownSoByTwelveRounds(Noise noise, double leastShown)
    {
        Assert.InRange((double)Count(noise, 12, 0, SlotsWord.Disturb, 2_002) / Rigs, 0, 0.05);
        Assert.InRange((double)Count(noise, 12, 0, SlotsWord.DoNotDisturb, 2_002) / Rigs, leastShown, 1);
    }

    /// <summary>Three parts in a hundred, whatever the code calls them: what scatters hardly at all lies on one side or the other.</summary>
    [Theory]
    [InlineData(0.028, SlotsWord.DoNotDisturb)]
    [InlineData(-0.028, SlotsWord.DoNotDisturb)]
    [InlineData(0.032, SlotsWord.Disturb)]
    [InlineData(-0.032, SlotsWord.Disturb)]
    public void Judge_FigureThatHardlyScatters_IsHeldAgainstThreePercent(double log, SlotsWord expected)
    {
        SlotComparison[] all = [.. Rig(new Random(3), Noise.Normal, 12, 0, s_reads).Select(c => c with { MeanLogRatio = 0, SdLogRatio = 1e-5 })];
        all[2] = all[2] with { MeanLogRatio = log };
        Assert.Equal(expected, SlotsTogether.Judge(all, writes: false).Word);
    }

    [Fact]
    public void Judge_HalfAsFast_Disturbs()
    {
        SlotsJudgement judged = SlotsTogether.Judge(Rig(new Random(3), Noise.Normal, 12, -0.5, s_reads), writes: false);
        Assert.Equal(SlotsWord.Disturb, judged.Word);
        Assert.StartsWith("random read in mmcblk0 beside random read in mmcblk1: -50.", judged.Text, StringComparison.Ordinal);
    }

    [Fact]
    public void Judge_FasterTogether_IsNotCalledUndisturbed() =>
        Assert.Equal(SlotsWord.Disturb, SlotsTogether.Judge(Rig(new Random(3), Noise.Normal, 12, 0.2, s_reads), writes: false).Word);

    [Fact]
    public void Judge_FewRounds_IsNotShownAndSaysWhatSettlesIt()
    {
        SlotsJudgement judged = SlotsTogether.Judge(Rig(new Random(3), Noise.Normal, SlotsTogether.LeastRounds - 1, 0, s_reads), writes: false);
        Assert.Equal(SlotsWord.NotShown, judged.Word);
        Assert.StartsWith("Test again with about 12 rounds", judged.Settles, StringComparison.Ordinal);
    }

    [Fact]
    public void Judge_NothingWritten_SaysNothingOfPlansThatWrite()
    {
        IReadOnlyList<SlotComparison> reads = Rig(new Random(3), Noise.Normal, 12, 0, s_reads);
        Assert.Equal(SlotsWord.DoNotDisturb, SlotsTogether.Judge(reads, writes: false).Word);
        Assert.Equal((SlotsWord.NotShown, "Test again with --erase for both cards."), (SlotsTogether.Judge(reads, writes: true).Word, SlotsTogether.Judge(reads, writes: true).Settles));
    }

    [Fact]
    public void Judge_WritesDisturbReads_ConcernsPlansThatWriteOnly()
    {
        SlotComparison[] all = [.. Rig(new Random(3), Noise.Normal, 12, 0, s_all).Select(c =>
            c is { Disk: "mmcblk1", Kind: TrialKind.RandomRead, BesideKind: TrialKind.SynchronousWrite } ? c with { MeanLogRatio = -0.2 } : c)];
        Assert.Equal(SlotsWord.DoNotDisturb, SlotsTogether.Judge(all, writes: false).Word);
        Assert.Equal(SlotsWord.Disturb, SlotsTogether.Judge(all, writes: true).Word);
    }

    [Fact]
    public void Judge_AComparisonIsMissing_IsNotShown()
    {
        SlotComparison[] all = [.. Rig(new Random(3), Noise.Normal, 12, 0, s_all)];
        Assert.Equal(SlotsWord.DoNotDisturb, SlotsTogether.Judge(all, writes: true).Word);
        Assert.All(all, left => Assert.Equal(SlotsWord.NotShown, SlotsTogether.Judge([.. all.Where(c => c != left)], writes: true).Word));
        Assert.Equal(SlotsWord.NotShown, SlotsTogether.Judge([.. all.Where(c => c.Disk == "mmcblk0")], writes: true).Word);
        Assert.Equal(SlotsWord.NotShown, SlotsTogether.Judge([], writes: false).Word);
    }

    /// <summary>By R 4.2, sum(dbinom(9:10, 10, 0.5)) = 0.0107 and of eight comparisons 0.086; of 14 among 14 it is 6.1e-5.</summary>
    [Theory]
    [InlineData(0, 0, SlotsWord.DoNotDisturb)]
    [InlineData(3, 3, SlotsWord.DoNotDisturb)]
    [InlineData(1, 4, SlotsWord.DoNotDisturb)]
    [InlineData(1, 0, SlotsWord.NotShown)]
    [InlineData(9, 1, SlotsWord.NotShown)]
    [InlineData(14, 0, SlotsWord.Disturb)]
    public void Judge_StallsTogether_SpeakAgainstIt(long together, long alone, SlotsWord expected)
    {
        SlotComparison[] all = [.. Rig(new Random(3), Noise.Normal, 12, 0, s_reads)];
        all[5] = all[5] with { Together = new StallCount(together, 24), Alone = new StallCount(alone, 24) };
        SlotsJudgement judged = SlotsTogether.Judge(all, writes: false);
        Assert.Equal(expected, judged.Word);
        Assert.True(expected == SlotsWord.DoNotDisturb || judged.Text.Contains("together", StringComparison.Ordinal), judged.Text);
    }

    private static int Count(Noise noise, int rounds, double effect, SlotsWord word, int seed)
    {
        var random = new Random(seed);
        return Enumerable.Range(0, Rigs).Count(_ => SlotsTogether.Judge(Rig(random, noise, rounds, effect, s_reads), writes: false).Word == word);
    }

    /// <summary>All comparisons of a rig; the effect is on the first one alone.</summary>
    private static IReadOnlyList<SlotComparison> Rig(Random random, Noise noise, int rounds, double effect, TrialKind[] kinds)
    {
        var all = new List<SlotComparison>();
        foreach (string disk in (string[])["mmcblk0", "mmcblk1"])
        {
            foreach (TrialKind kind in kinds)
            {
                double[] alone = [.. Enumerable.Range(0, rounds).Select(round => Log(random, noise, round, rounds))];
                foreach (TrialKind beside in kinds)
                {
                    double shift = all.Count == 0 ? Math.Log(1 + effect) : 0;
                    double[] ratios = [.. alone.Select((a, round) => Log(random, noise, round, rounds) + shift - a)];
                    double mean = ratios.Average();
                    all.Add(new SlotComparison(
                        disk, kind, disk == "mmcblk0" ? "mmcblk1" : "mmcblk0", beside, rounds, mean,
                        Math.Sqrt(ratios.Sum(r => (r - mean) * (r - mean)) / (rounds - 1)), new StallCount(0, 24), new StallCount(0, 24)));
                }
            }
        }

        return all;
    }

    /// <summary>The logarithm of one figure: 1 % scatter, t(3) tails, a speed that sinks by 10 % over the test, or a burst of 10 % in one of twenty.</summary>
    private static double Log(Random random, Noise noise, int round, int rounds) => noise switch
    {
        Noise.HeavyTails => 0.01 * Normal(random) / Math.Sqrt((Square(random) + Square(random) + Square(random)) / 3),
        Noise.Drift => (0.01 * Normal(random)) - (0.1 * (round + random.NextDouble()) / rounds),
        Noise.Bursts => (0.01 * Normal(random)) - (random.Next(20) == 0 ? 0.1 : 0),
        _ => 0.01 * Normal(random),
    };

    private static double Square(Random random) => Math.Pow(Normal(random), 2);

    private static double Normal(Random random) => Math.Sqrt(-2 * Math.Log(1 - random.NextDouble())) * Math.Cos(2 * Math.PI * random.NextDouble());
}
