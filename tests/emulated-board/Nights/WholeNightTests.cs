using System.Globalization;
using System.Text.Json.Nodes;
using Cardassay.EmulatedBoard.Harness;
using Cardassay.EmulatedBoard.Registers;
using Cardassay.Identity;
using Cardassay.Registers;
using Cardassay.Trials;
using Xunit.Abstractions;

namespace Cardassay.EmulatedBoard.Nights;

/// <summary>
/// A night with everything that goes wrong in one: three boards, five cards, of which one is the clone of another, one lies about its
/// capacity and one is pulled out; a board loses power and the collector is killed. In the morning one report names all of it.
/// </summary>
public sealed class WholeNightTests(ITestOutputHelper output)
{
    /// <summary>What the lying card claims and keeps, bytes.</summary>
    private const long ClaimedBytes = 32 << 20;
    private const long TrueBytes = (13 << 20) + 4096 + 512;


    // Cards of the emulator all say the same of themselves; these are shown to be others by public read-outs.
    private static readonly PresentedVector Lying = PresentedVector.All[0], Pulled = PresentedVector.All[2], Cut = PresentedVector.All[3];

    [SkippableFact]
    public async Task Night_WithEverythingGoingWrong_EndsInOneReportThatNamesIt()
    {
        HostTools.Require();
        await using CollectorProcess collector = await CollectorProcess.StartAsync();
        await using NbdCard liar = new(ClaimedBytes, TrueBytes, PastTheEnd.Drop);
        GuestSetup first = await SetupAsync("harbour-1", CardImage.Create(64 << 20), CardImage.Create(64 << 20));
        Guest[] boards = await Task.WhenAll(
            Guest.StartAsync(first),
            Guest.StartAsync(await SetupAsync("harbour-2", CardImage.Create(64 << 20), liar)),
            Guest.StartAsync(await SetupAsync("harbour-3", CardImage.Create(64 << 20))));
        await using Guest one = boards[0], two = boards[1], three = boards[2];
        await Task.WhenAll(PresentAsync(one, "mmcblk1", Cut), PresentAsync(two, "mmcblk1", Lying), PresentAsync(three, "mmcblk0", Pulled));

        string clone = EmulatedIdentity.Text;
        await ScheduleAsync(collector, "harbour-1", "mmcblk0", "T-01", clone, Plan("short"));
        await ScheduleAsync(collector, "harbour-1", "mmcblk1", "T-05", IdentityOf(Cut), Plan("short"));
        await ScheduleAsync(collector, "harbour-2", "mmcblk0", "T-02", clone, Plan("short"));
        await ScheduleAsync(collector, "harbour-2", "mmcblk1", "T-03", IdentityOf(Lying), "capacity-sparse");
        await ScheduleAsync(collector, "harbour-3", "mmcblk0", "T-04", IdentityOf(Pulled), Plan("pull"));

        Scenario cutting = await one.BeginAsync("serve", collector.AddressInGuest, "mmcblk1", "12000");
        Scenario working = await two.BeginAsync("serve", collector.AddressInGuest, "mmcblk1", "8");
        Scenario pulling = await three.BeginAsync("serve", collector.AddressInGuest, "mmcblk0", "32768");
        await pulling.ReachAsync("reading");
        await three.PullCardAsync(0);
        await pulling.ReachAsync("gone");
        await AwaitAsync(collector, "T-04", state => state["runsFailed"].AsLong() == 1);

        await cutting.ReachAsync("reading");
        one.CutPower();
        await collector.RestartAsync();
        await three.InsertCardAsync(0, CardImage.Create(64 << 20)); // not the same: it says that it is the clone's kind
        await using Guest again = await Guest.StartAsync(first);
        await PresentAsync(again, "mmcblk1", Cut);
        await again.BeginAsync("serve", collector.AddressInGuest, "mmcblk1", "8");
        foreach (string card in new[] { "T-01", "T-02", "T-03", "T-05" })
        {
            await AwaitAsync(collector, card, state => state["state"]!.GetValue<string>() == "done");
        }

        await working.ReachAsync("reading");
        JsonNode waiting = await AwaitAsync(collector, "T-04", state => state["state"]!.GetValue<string>() == "waiting");
        Assert.Equal(1, waiting["runsFailed"].AsLong()); // the strange card was not measured under its tag
        await AwaitAllDeliveredAsync(collector);
        AssertReport(await collector.AskAsync("report"));
        await AssertRecordsAsync(collector);
        await two.PullCardAsync(1);
        await working.ReachAsync("gone");
        AssertMemory(await working.SaysAsync("resident"));
    }

    /// <summary>What the agent of a board holds after its night: VmRSS of proc_pid_status(5). The limit is a choice: a board may have 512 MB for everything.</summary>
    private void AssertMemory(string kilobytes)
    {
        double megabytes = int.Parse(kilobytes, CultureInfo.InvariantCulture) * 1024 / 1e6;
        output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{megabytes:0.0} MB resident after the night"));
        Assert.InRange(megabytes, 1, 24);
    }

    private static void AssertReport(JsonNode report)
    {
        JsonNode night = report["night"]!;
        Assert.Equal((5, 6, 4), (night["runsPlanned"].AsLong(), night["runsBegun"].AsLong(), night["runsCompleted"].AsLong()));
        string[] troubles = [.. night["troubles"]!.AsArray().Where(t => t!["what"]!.GetValue<string>() == "missing").Select(t => $"{t!["card"]} in {t["board"]}: {t["why"]}")];
        Assert.Equal(2, troubles.Length);
        Assert.Contains(troubles, t => t.StartsWith("T-05 in harbour-1: The board lost power", StringComparison.Ordinal) && t.EndsWith("It was made again.", StringComparison.Ordinal));

        // Which of these the run meets first is the kernel's order of taking a card away: its registers, its size, its name.
        Assert.Contains(troubles, t => t.StartsWith("T-04 in harbour-3:", StringComparison.Ordinal)
            && (t.Contains("card is gone", StringComparison.Ordinal) || t.Contains("registers of mmcblk0 can no longer be read", StringComparison.Ordinal)));

        JsonNode Card(string tag) => report["cards"]!.AsArray().Single(c => c!["tag"]!.GetValue<string>() == tag)!;
        foreach (string tag in new[] { "T-01", "T-02" })
        {
            JsonNode finding = Card(tag)["findings"]!.AsArray().Single(f => f!["id"]!.GetValue<string>() == "identity-in-two-places")!;
            Assert.Contains("harbour-1", finding.ToJsonString(), StringComparison.Ordinal);
            Assert.Contains("harbour-2", finding.ToJsonString(), StringComparison.Ordinal);
        }

        Assert.Equal("not as claimed", Card("T-03")["verdict"]!.GetValue<string>());
        Assert.Equal(0, report["integrity"]!["gaps"].AsLong());
        Assert.Equal(0, report["integrity"]!["conflicts"].AsLong());
    }

    private static async Task AssertRecordsAsync(CollectorProcess collector)
    {
        Observation?[] observations = [.. (await collector.ReadIntakeAsync()).Select(record => record.Observation)];
        RunOpened[] opened = [.. observations.OfType<RunOpened>()];
        RunClosed[] Ends(string tag) => [.. opened.Where(run => run.Tag == tag).SelectMany(run => observations.OfType<RunClosed>().Where(end => end.RunId == run.RunId))];
        Assert.Equal([RunOutcome.Interrupted, RunOutcome.Completed], Ends("T-05").Select(end => end.Outcome));
        Assert.Equal([RunOutcome.Interrupted], Ends("T-04").Select(end => end.Outcome));

        // What was measured before the card was pulled is kept.
        TrialMeasured before = observations.OfType<TrialMeasured>().First(trial => trial.RunId == opened.Single(run => run.Tag == "T-04").RunId);
        Assert.Equal(TrialKind.SequentialWrite, before.Kind);
        Assert.InRange(before.Bytes, 1, 4L << 20);
        ProofMeasured proof = Assert.Single(observations.OfType<ProofMeasured>(), p => p.Complete);
        Assert.Equal((ClaimedBytes, TrueBytes / 4096 * 4096), (proof.ClaimedBytes, proof.TrueBytes ?? 0)); // known to the block that is not whole any more
    }

    private static async Task<GuestSetup> SetupAsync(string name, params CardMedium[] cards) =>
        new() { Name = name, Slots = cards, Disk = await GuestDisk.CreateAsync(256 << 20), Network = true };

    private static Task<string> PresentAsync(Guest board, string disk, PresentedVector vector) => board.RunAsync("present", disk, $"cid={vector.Cid}");

    private static string IdentityOf(PresentedVector vector) => CardIdentity.FromCid(Cid.Parse(vector.Cid).Value!).Text;

    private static string Plan(string name) => Repository.At("tests", "emulated-board", "plans", name + ".json");

    private static async Task ScheduleAsync(CollectorProcess collector, string board, string disk, string tag, string identity, string plan)
    {
        await collector.RunAsync("invite", board, "--address", "10.0.2.2:7420"); // so that the collector knows its name
        await collector.RunAsync("schedule", board, "/dev/" + disk, "--tag", tag, "--erase", identity, "--plan", plan, "--later");
    }

    private static async Task<JsonNode> AwaitAsync(CollectorProcess collector, string tag, Func<JsonNode, bool> holds)
    {
        using CancellationTokenSource late = new(Hang.Limit);
        while (true)
        {
            JsonNode schedule = await collector.AskAsync("schedule");
            JsonNode state = schedule["entries"]!.AsArray().Single(e => e!["entry"]!["tag"]!.GetValue<string>() == tag)!;
            if (holds(state))
            {
                return state;
            }

            if (late.IsCancellationRequested)
            {
                throw new InvalidOperationException($"{tag} did not come to it: {schedule.ToJsonString()}");
            }

            await Task.Delay(CollectorProcess.BetweenQuestions);
        }
    }

    private static async Task AwaitAllDeliveredAsync(CollectorProcess collector)
    {
        using CancellationTokenSource late = new(Hang.Limit);
        while ((await collector.AskAsync("boards"))["boards"]!.AsArray().Any(b => b!["backlogRecords"].AsLong() > 0))
        {
            await Task.Delay(CollectorProcess.BetweenQuestions, late.Token);
        }
    }
}
