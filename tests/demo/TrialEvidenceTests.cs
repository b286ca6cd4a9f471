using Cardassay.Trials;

namespace Cardassay.Demo.Tests;

/// <summary>Every trial must agree with itself, or a check that looks for spoilt trials would find one nobody planted.</summary>
public sealed class TrialEvidenceTests
{
    private static readonly TrialMeasured[] Trials = [.. Tarrow24.All.OfType<TrialMeasured>()];

    [Fact]
    public void Latency_EveryTrial_HoldsEveryOperationAndTheTimeItTook()
    {
        Assert.All(Trials, trial =>
        {
            Assert.Equal(trial.Operations, trial.Latency.Count);
            double sumNs = trial.Latency.Buckets().Sum(b => (double)b.LatencyNs * b.Count);
            // One at a time, so the operations fill the trial; a bucket gives its lowest value, at most 1 % too low.
            Assert.InRange(sumNs / trial.ElapsedNs, 0.985, 1.0001);
        });
    }

    [Fact]
    public void Timeline_EveryTrial_AddsUpToTheTrial()
    {
        Assert.All(Trials, trial =>
        {
            Assert.Equal(trial.Operations, trial.Timeline.Sum(s => s.Operations));
            Assert.Equal(trial.Bytes, trial.Timeline.Sum(s => s.Bytes));
            Assert.Equal(trial.Operations * trial.BlockBytes, trial.Bytes);
            Assert.Equal((trial.ElapsedNs + 999_999_999) / 1_000_000_000, trial.Timeline.Count);
            Assert.All(trial.Timeline, second => Assert.True(second.Operations >= 0));
            // MaxNs is exact to its bucket, 1 %.
            Assert.InRange(trial.Timeline.Max(s => s.MaxLatencyNs) / (double)trial.Latency.MaxNs, 0.985, 1.015);
        });
    }

    [Fact]
    public void Stalls_EveryTrial_AreWithinTheTrialAndOverTheLimit()
    {
        Assert.All(Trials, trial =>
        {
            Assert.Equal(trial.Stalls.Count, trial.StallCount);
            Assert.All(trial.Stalls, stall =>
            {
                Assert.InRange(stall.AtNs, 0, trial.ElapsedNs - stall.LatencyNs);
                Assert.InRange(stall.OffsetBytes, 0, trial.RangeBytes - trial.BlockBytes);
                Assert.True(stall.LatencyNs > trial.StallLimitNs);
            });
            if (trial.StallCount == 0)
            {
                // Busy limits of SD Part 1 Physical Layer 4.10, 4.6.2: 100 ms reading, 250 ms writing.
                Assert.InRange(trial.Latency.MaxNs, 1, trial.Kind is TrialKind.RandomRead or TrialKind.SequentialRead ? 100_000_000 : 250_000_000);
            }
        });
    }

    [Fact]
    public void Conditions_EveryTrial_CountWhatTheTrialMovedAndNothingElse()
    {
        Assert.All(Trials, trial =>
        {
            long read = trial.After.SectorsRead!.Value - trial.Before.SectorsRead!.Value;
            long written = trial.After.SectorsWritten!.Value - trial.Before.SectorsWritten!.Value;
            bool writes = trial.Kind is not (TrialKind.RandomRead or TrialKind.SequentialRead);
            Assert.Equal(writes ? (0, trial.Bytes / 512) : (trial.Bytes / 512, 0), (read, written));
            Assert.Equal(0, trial.After.LinkErrors);
            Assert.NotEmpty(trial.During);
        });
    }

    [Fact]
    public void Conditions_UnderVoltage_SpoilsOneTrialWhichSaysSo()
    {
        TrialMeasured spoilt = Assert.Single(Trials, t => t.During.Any(c => c.UnderVoltage == true));

        Assert.Equal([spoilt], Trials.Where(t => !t.Valid));
        Assert.NotEmpty(spoilt.Reasons);
        Assert.All(Trials.Except([spoilt]), t => Assert.Empty(t.Reasons));
    }

    [Fact]
    public void Figures_EverySequentialTrial_FitTheBus()
    {
        // Ceilings at 4 bits: high speed 25 MB/s, SDR104 104 MB/s (SD Association's public pages on bus speed).
        Assert.All(Trials, trial => Assert.InRange(
            trial.BytesPerSecond / 1e6, 0, trial.Before.BusMode == "sd high-speed" ? 25 : 104));
    }

    [Fact]
    public void BusMode_EveryCard_StaysTheSameWhereverItIs()
    {
        Assert.All(Tarrow24.RunsByTag, runs => Assert.Single(
            runs.SelectMany(r => Tarrow24.TrialsByRun[r.RunId]).Select(t => t.Before.BusMode).Distinct()));
        Assert.Equal(
            ["T-18", "T-22", "T-23", "T-24"],
            Tarrow24.RunsByTag.Select(g => g.Key).Where(tag => Tarrow24.TrialsOf(tag).First().Before.BusMode == "sd high-speed").Order());
    }
}
