using Cardassay.EmulatedBoard.Harness;
using Cardassay.Trials;

namespace Cardassay.EmulatedBoard.Nights;

/// <summary>Somebody pulls the card while a board works, and puts in another one later.</summary>
public sealed class PulledCardTests
{

    [SkippableFact]
    public async Task Work_CardPulledInATrial_ClosesTheRunAsInterruptedAndMeasuresTheNextCard()
    {
        HostTools.Require();
        await using CollectorProcess collector = await CollectorProcess.StartAsync();
        await using Guest guest = await Guest.StartAsync(new GuestSetup
        {
            Slots = [CardImage.Create(64 << 20)],
            Disk = await GuestDisk.CreateAsync(256 << 20),
            Network = true,
        });
        await collector.RunAsync("invite", "harbour-1", "--address", "10.0.2.2:7420"); // so that the collector knows its name
        await collector.RunAsync(
            "schedule", "harbour-1", "/dev/mmcblk0", "--repeat", "1", "--erase", EmulatedIdentity.Text,
            "--plan", Repository.At("tests", "emulated-board", "plans", "pull.json"));

        Scenario work = await guest.BeginAsync("work", collector.AddressInGuest, "mmcblk0");
        await work.ReachAsync("reading");
        await guest.PullCardAsync(0);
        await work.ReachAsync("gone");
        await AwaitFailedRunAsync(collector);
        await guest.InsertCardAsync(0, CardImage.Create(64 << 20));
        await work.ReachAsync("another");
        await work.SucceedAsync();

        Observation?[] observations = [.. (await collector.ReadIntakeAsync()).Select(record => record.Observation)];
        RunClosed[] closed = [.. observations.OfType<RunClosed>()];
        Assert.Equal([RunOutcome.Interrupted, RunOutcome.Completed], closed.Select(run => run.Outcome));
        RunOpened[] opened = [.. observations.OfType<RunOpened>()];
        Assert.Equal(closed.Select(run => run.RunId), opened.Select(run => run.RunId));
        Assert.True(opened[1].DiskSequence > opened[0].DiskSequence);

        // What was measured before the pull is kept.
        TrialMeasured before = observations.OfType<TrialMeasured>().First(trial => trial.RunId == opened[0].RunId);
        Assert.Equal(TrialKind.SequentialWrite, before.Kind);
        if (!before.Valid)
        {
            // On a quiet machine the emulator is quicker than the bus it emulates, which a rule rightly sets aside; it is the only reason there may be.
            Assert.Contains("that the bus mode sd high-speed can carry", Assert.Single(before.Reasons), StringComparison.Ordinal);
        }

        Assert.InRange(before.Bytes, 1, 4L << 20); // all of it, unless its seconds are over before on a busy machine
    }

    private static async Task AwaitFailedRunAsync(CollectorProcess collector)
    {
        using CancellationTokenSource late = new(Hang.Limit);
        while ((await collector.AskAsync("schedule"))["entries"]![0]!["runsFailed"].AsLong() == 0)
        {
            await Task.Delay(CollectorProcess.BetweenQuestions, late.Token);
        }
    }
}
