using System.Text.Json.Nodes;
using Cardassay.EmulatedBoard.Harness;
using Cardassay.Trials;

namespace Cardassay.EmulatedBoard.Nights;

/// <summary>The whole chain: card, kernel, native agent, journal, network, collector; with cards that cannot be told apart by their registers.</summary>
public sealed class TwoCardsTests(NightGuest night) : IClassFixture<NightGuest>
{
    [SkippableFact]
    public async Task Measure_TwoCardsOfOneIdentityAtOnce_KeepsThemApartByTag()
    {
        (Guest guest, CollectorProcess collector) = await night.ObtainAsync();

        await guest.RunAsync("measure-both", "T-01", "T-02", EmulatedIdentity.Text, "short", collector.AddressInGuest);

        Observation?[] observations = [.. (await collector.ReadIntakeAsync()).Select(record => record.Observation)];
        RunOpened[] runs = [.. observations.OfType<RunOpened>().Where(run => run.Tag is "T-01" or "T-02").OrderBy(run => run.Tag, StringComparer.Ordinal)];
        Assert.Equal(["T-01", "T-02"], runs.Select(run => run.Tag));
        Assert.Equal(["mmcblk0", "mmcblk1"], runs.Select(run => run.DiskName));
        Assert.NotEqual(runs[0].DiskSequence, runs[1].DiskSequence);
        foreach (RunOpened run in runs)
        {
            Assert.Equal(Attachment.Slot, run.Attachment);
            CardIdentified card = observations.OfType<CardIdentified>().Single(seen => seen.RunId == run.RunId);
            Assert.Equal((EmulatedIdentity.Text, true), (card.Identity, card.IdentityFromRegisters));
            Assert.Equal(EmulatedIdentity.Cid, card.Files["cid"].Value);
            Assert.Equal(RunOutcome.Completed, observations.OfType<RunClosed>().Single(closed => closed.RunId == run.RunId).Outcome);

            // The plan `short`: four kinds, three rounds, and the first trial once more; three random reads with their first reads.
            TrialMeasured[] trials = [.. observations.OfType<TrialMeasured>().Where(trial => trial.RunId == run.RunId)];
            Assert.Equal(Enumerable.Range(0, 16), trials.Select(trial => trial.Index).Order());
            Assert.All(trials, trial => Assert.True(trial.Operations > 0 && trial.Latency.Count == trial.Operations));
        }

        JsonNode report = await collector.AskAsync("report");
        foreach (string tag in runs.Select(run => run.Tag!))
        {
            JsonNode card = report["cards"]!.AsArray().Single(c => c!["tag"]!.GetValue<string>() == tag)!;
            Assert.Contains("identity-in-two-places", card["findings"]!.AsArray().Select(finding => finding!["id"]!.GetValue<string>()));
        }
    }

    [SkippableFact]
    public async Task Measure_OneCard_PrintsWhatItDeliversAndLeavesNoBacklog()
    {
        (Guest guest, CollectorProcess collector) = await night.ObtainAsync();

        JsonNode result = JsonNode.Parse(await guest.RunAsync("measure", "mmcblk0", "T-03", EmulatedIdentity.Text, "short", collector.AddressInGuest))!;
        JsonNode backlog = JsonNode.Parse(await guest.RunAsync("backlog"))!;

        Assert.Equal(EmulatedIdentity.Text, result["identity"]!.GetValue<string>());
        Assert.Equal(0, backlog["records"].AsLong());
        IEnumerable<TrialMeasured> delivered = (await collector.ReadIntakeAsync()).Select(record => record.Observation).OfType<TrialMeasured>()
            .Where(trial => trial.RunId.ToString() == result["run"]!.GetValue<string>());
        Assert.Equal(
            result["trials"]!.AsArray().Select(trial => (trial!["operations"].AsLong(), trial["bytes"].AsLong(), trial["elapsedNs"].AsLong())),
            delivered.Select(trial => (trial.Operations, trial.Bytes, trial.ElapsedNs)));
    }
}
