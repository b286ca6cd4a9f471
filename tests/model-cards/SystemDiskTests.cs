using System.Globalization;
using Cardassay.ModelCards.Tests.Models;
using Cardassay.Trials;

namespace Cardassay.ModelCards.Tests;

/// <summary>What the plan for system disks finds of cards whose truth is known, each within 5 %, and what the report says of them.</summary>
public sealed class SystemDiskTests
{
    private const long MiB = 1 << 20, GiB = 1 << 30;

    [Fact]
    public void Ideal_EveryFigureIsTrueAndNothingIsRaised()
    {
        Night night = new Night(new CardModel(), 8 * GiB).Run("system-disk");
        double read = 1e9 / CardModel.ReadTimeNs(4096), commit = CardModel.WriteTimeNs(4096) + CardModel.Ns(CardModel.FlushMs);
        foreach (long range in new[] { 64 * MiB, GiB, 8 * GiB })
        {
            Night.IsTrue(read, night.Figures(TrialKind.RandomRead, range));
            Night.IsTrue(read, night.Figures(TrialKind.RandomRead, range, pass: 1));
        }

        // Half of 4 KiB, a quarter of 16, 15 % of 64 and 10 % of 128: one after the other whatever the depth, for the card does one thing at a time.
        double boot = 1e9 / ((0.5 * CardModel.ReadTimeNs(4096)) + (0.25 * CardModel.ReadTimeNs(16384)) + (0.15 * CardModel.ReadTimeNs(65536)) + (0.1 * CardModel.ReadTimeNs(131072)));
        Night.IsTrue(boot, night.Figures(TrialKind.BootRead));
        Night.IsTrue(boot, night.Figures(TrialKind.BootRead, depth: 4));
        Night.IsTrue(1e9 / CardModel.WriteTimeNs(4096), night.Figures(TrialKind.RandomWrite));
        Night.IsTrue(1e9 / commit, night.Figures(TrialKind.SynchronousWrite));
        Night.IsTrue(1e9 / commit, night.Figures(TrialKind.LogAppend));
        Night.IsTrue(1024e9 / ((1024 * commit) + (1024 * CardModel.WriteTimeNs(4096)) + CardModel.Ns(CardModel.FlushMs)), night.Figures(TrialKind.DatabaseCommit));
        Night.IsTrue(1e9 / (CardModel.WriteTimeNs(32768) + CardModel.ReadTimeNs(4096)), night.Figures(TrialKind.Swap, depth: 2));
        Night.IsTrue(524288e3 / CardModel.ReadTimeNs(524288), night.Figures(TrialKind.SequentialRead));
        Night.IsTrue(524288e3 / CardModel.WriteTimeNs(524288), night.Figures(TrialKind.SequentialWrite));
        Night.IsTrue(524288e3 / CardModel.WriteTimeNs(524288), night.Figures(TrialKind.Cliff));
        Night.IsTrue(40, night.Figures(TrialKind.StallWatch)); // 20 writes a second and as many reads, as the plan paces them

        var card = night.Report();
        Assert.Equal(["registers-readable"], card.Findings.Select(finding => finding.Id)); // it shows none, and that is all there is to say
        Assert.Empty(card.NotCounted.Where(text => !text.Contains("warm-up", StringComparison.Ordinal)));
        Assert.All(card.Metrics, metric => Assert.Equal("settled", metric.IsInterval ? metric.Settled : "settled"));
        Assert.Contains(card.Behaviour, text => text.Contains("shows no lasting fall", StringComparison.Ordinal));
        Assert.Contains(card.Behaviour, text => text.Contains("steady at 768 IOPS after 5", StringComparison.Ordinal));
        Assert.DoesNotContain(card.Behaviour, text => text.Contains("stall", StringComparison.Ordinal));
    }

    [Fact]
    public void MappingCache_TheWholeCardIsWhatLeads()
    {
        Night night = new Night(new MappingCache()).Run("system-disk");
        double hit = CardModel.ReadTimeNs(4096), held = (double)MappingCache.PiecesHeld * MappingCache.PieceBytes / ModelCard.Size;
        Night.IsTrue(1e9 / hit, night.Figures(TrialKind.RandomRead, 64 * MiB));
        Night.IsTrue(1e9 / hit, night.Figures(TrialKind.RandomRead, GiB));
        double whole = 1e9 / (hit + ((1 - held) * CardModel.Ns(MappingCache.MissMs)));
        Night.IsTrue(whole, night.Figures(TrialKind.RandomRead, ModelCard.Size));
        Night.IsTrue(1e9 / (CardModel.WriteTimeNs(4096) + ((1 - held) * CardModel.Ns(MappingCache.MissMs))), night.Figures(TrialKind.RandomWrite));

        var card = night.Report();
        Assert.Contains("whole card", card.Metrics[0].Series, StringComparison.Ordinal);
        Assert.Equal("randomRead", card.Metrics[0].Key);
        Assert.Equal("Random read, whole card", card.Metrics[0].Label); // what tells it from the others, and no more
        Night.IsTrue(whole, [double.Parse(card.Metrics[0].Median.Text, CultureInfo.InvariantCulture)]);

        // A minute in the first 64 MiB reads what the cache covers: it says so, and its figure is another series.
        night.Run("first-look", seed: 2);
        Night.IsTrue(1e9 / hit, night.Figures(TrialKind.RandomRead));
        Assert.Contains(night.Notes, note => note.Contains("neither the card as a whole", StringComparison.Ordinal));
        Assert.Equal(card.Metrics[0].Median, night.Report().Metrics[0].Median);
    }

    [Fact]
    public void FastCacheThatAbsorbsOverwrites_ItsSizeAndBothRatesAreFound()
    {
        const long Cache = 512 * MiB;
        Night night = new Night(new FastCache(Cache, 0)).Run("system-disk");
        Found(night, Cache, "0.54", "none of 2.15 GB more was fast again");

        // An eighth of the card is held in the fast part for good.
        double held = (double)Cache / ModelCard.Size;
        Night.IsTrue(1e9 / ((held * FastCache.FastNs(4096)) + ((1 - held) * FastCache.SlowNs(4096))), night.Figures(TrialKind.RandomWrite));

        // The minute's writes stay within what is held, or do not: either way it must not be taken for the card.
        Assert.Contains(night.Run("first-look", seed: 2).Notes, note => note.Contains("what is left when a fast cache is full", StringComparison.Ordinal));
    }

    [Fact]
    public void FastCacheThatDrains_ItsRecoveryIsFound()
    {
        const double PerSecond = 4e6;
        Night night = new Night(new FastCache(GiB, PerSecond)).Run("system-disk");
        Found(night, GiB, "1.07", "the first 0.48 GB of 2.15 GB more were fast again"); // 120 s of rest
    }

    [Fact]
    public void CollectsByVolume_TheStallsAreSeenAndNamed()
    {
        Night night = new Night(new CollectsByVolume(), 8 * GiB).Run("system-disk");
        TrialMeasured[] watch = [.. night.Trials.Where(trial => trial is { Kind: TrialKind.StallWatch, Role: TrialRole.Measured })];
        Assert.Equal(600, watch.Sum(part => part.ElapsedNs) / 1e9, 1.0);
        long expected = watch.Sum(part => part.WrittenBytes) / CollectsByVolume.EveryBytes;
        Assert.True(expected >= 2);
        Assert.InRange(watch.Sum(part => part.StallCount), expected, expected + 1);
        Assert.All(watch.SelectMany(part => part.Stalls), stall => Assert.InRange(stall.LatencyNs / 1e6, CollectsByVolume.PauseMs, CollectsByVolume.PauseMs * 1.05));
        double perWrite = CardModel.WriteTimeNs(524288) + (CardModel.Ns(CollectsByVolume.PauseMs) * 524288.0 / CollectsByVolume.EveryBytes);
        Night.IsTrue(524288e3 / perWrite, night.Figures(TrialKind.Cliff));
        var card = night.Report();
        Assert.Contains(card.Behaviour, text => text.Contains("stall", StringComparison.Ordinal) && text.Contains("the longest took 8", StringComparison.Ordinal));
        Assert.Contains(card.Findings, finding => finding.Id == "long-stall" && finding.Text.StartsWith("One write of stall watch took 80", StringComparison.Ordinal));
    }

    private static void Found(Night night, long cacheBytes, string gigabytes, string recovery)
    {
        TrialMeasured write = Assert.Single(night.Trials, trial => trial is { Kind: TrialKind.Cliff, Recovery: false });
        Cliff cliff = CacheCliff.Find(write.Timeline)!.Value;
        Night.IsTrue(cacheBytes, [cliff.AfterBytes]);
        Night.IsTrue(524288e9 / FastCache.FastNs(524288), [cliff.BytesPerSecondBefore]);
        Night.IsTrue(524288e9 / FastCache.SlowNs(524288), [cliff.BytesPerSecondAfter]);
        Assert.Contains(night.Report().Behaviour, text => text.Contains($"was fast for the first {gigabytes} GB", StringComparison.Ordinal) && text.Contains(recovery, StringComparison.Ordinal));
    }
}
