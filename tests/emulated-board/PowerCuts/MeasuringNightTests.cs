using System.Globalization;
using System.Text.Json.Nodes;
using Cardassay.EmulatedBoard.Harness;
using Cardassay.Trials;

namespace Cardassay.EmulatedBoard.PowerCuts;

/// <summary>A board whose power is cut again and again while it measures and delivers.</summary>
public sealed class MeasuringNightTests
{
    private const int MostTrialsBeforeCut = 9;
    private const int MostDelayMs = 400;

    private static int Cuts => Environment.GetEnvironmentVariable("CARDASSAY_FULL") == "1" ? 20 : 3;

    private static int Seed =>
        int.TryParse(Environment.GetEnvironmentVariable("CARDASSAY_SEED"), CultureInfo.InvariantCulture, out int seed) ? seed : 20261125;

    [SkippableFact]
    public async Task CutPower_WhileMeasuringAndDelivering_LosesNothingReceiptedAndRepeatsNothing()
    {
        HostTools.Require();
        Random random = new(Seed);
        GuestDisk disk = await GuestDisk.CreateAsync(256 << 20);
        CardImage card = CardImage.Create(64 << 20);
        await using CollectorProcess collector = await CollectorProcess.StartAsync();
        GuestSetup setup = new() { Slots = [card], Disk = disk, Network = true };

        int keptTrials = 0;
        long receipted = 0;
        for (int cut = 1; cut <= Cuts; cut++)
        {
            await using Guest guest = await Guest.StartAsync(setup);
            Scenario night = await guest.BeginAsync("measure-on", "mmcblk0", "T-01", EmulatedIdentity.Text, "short", collector.AddressInGuest);
            int before = random.Next(1, MostTrialsBeforeCut + 1);
            for (int trial = 0; trial < before; trial++)
            {
                await night.ReachAsync("trial");
            }

            // The moment of the cut: anywhere in a trial, a flush or a delivery.
            await Task.Delay(random.Next(MostDelayMs));
            guest.CutPower();
            keptTrials += before + await night.CountRestAsync("trial");
            long now = (await collector.AskAsync("status"))["recordsReceived"]!.AsLong();
            Assert.True(now >= receipted, $"seed {Seed}, cut {cut}: {now} records where {receipted} had been receipted");
            receipted = now;
        }

        await using (Guest last = await Guest.StartAsync(setup))
        {
            await last.RunAsync("work", collector.AddressInGuest);
            Assert.Equal(0, JsonNode.Parse(await last.RunAsync("backlog"))!["records"]!.AsLong());
            await last.RunAsync("put-away-disk");
        }

        JsonNode status = await collector.AskAsync("status");
        JsonNode cards = await collector.AskAsync("cards");
        IReadOnlyList<KeptRecord> journal = await disk.ReadJournalAsync();
        IReadOnlyList<KeptRecord> intake = await collector.ReadIntakeAsync();
        Observation?[] observations = [.. intake.Select(record => record.Observation)];

        // Each trial the agent called kept is there, and a cut can hide at most one kept trial's message.
        Assert.InRange(observations.OfType<TrialMeasured>().Count(), keptTrials, keptTrials + Cuts);
        Assert.Equal(0, status["gaps"].AsLong());
        Assert.Equal(0, status["conflicts"].AsLong());
        Assert.Equal(intake.Count, status["recordsReceived"]!.AsLong());
        Assert.Equal(intake.Count, intake.Distinct().Count());

        // The board drops what has a receipt once a cut made it begin a new segment; what it still has is the collector's to the byte.
        Assert.NotEmpty(journal);
        Assert.Empty(journal.Except(intake));

        // The store knows them as the runs of one card.
        Assert.Equal(observations.OfType<RunOpened>().Count(), Assert.Single(cards["cards"]!.AsArray())!["runs"].AsLong());

        // Every run that was opened was closed once: completed, or interrupted by the cut.
        Assert.Equal(
            observations.OfType<RunOpened>().Select(run => run.RunId).Order(),
            observations.OfType<RunClosed>().Select(run => run.RunId).Order());
        Assert.Equal(Cuts, observations.OfType<RunClosed>().Count(run => run.Outcome == RunOutcome.Interrupted));
    }
}
