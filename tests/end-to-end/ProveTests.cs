using System.Globalization;
using System.Text.Json;
using Cardassay.Fixtures.Cards;

namespace Cardassay.EndToEnd.Tests;

/// <summary>`prove` as a person starts it, on honest and lying cards served from user space below a loop device.</summary>
[Collection("machine")]
public sealed class ProveTests : IDisposable
{
    private const long Size = 40 << 20;
    private const long True = 22 << 20;

    private readonly Workshop _workshop = new();

    [SkippableFact]
    public void Prove_HonestCard_SaysNoOverstatementAndNeverGenuine()
    {
        using CardExport card = Export(new CardStore(BlankContent.OldFiles, 1));
        Finished finished = _workshop.Agent(Arguments(card)).Expect(0);
        Assert.Contains("No overstatement found: each of 41.9 MB was written and then read back as written, so the card keeps at least 41.9 MB whatever it does.", finished.Output, StringComparison.Ordinal);
        Assert.DoesNotContain("genuine", finished.Output + finished.Errors, StringComparison.OrdinalIgnoreCase);

        JsonElement json = JsonDocument.Parse(_workshop.Agent(Arguments(card, "--json", "--full")).Expect(0).Output).RootElement;
        Assert.Equal(
            ["claimedBytes", "trueBytes", "keepsAtLeastBytes", "kind", "blocksWritten", "blocksRead", "lostFractionBelow", "assumption", "lostFractionAtLeast", "statement", "ranges", "findings"],
            json.EnumerateObject().Select(p => p.Name));
        Assert.Equal((Size, "noneFound", Size / 4096), (json.GetProperty("claimedBytes").GetInt64(), json.GetProperty("kind").GetString(), json.GetProperty("blocksRead").GetInt64()));
        Assert.Equal(JsonValueKind.Null, json.GetProperty("trueBytes").ValueKind);
    }

    [SkippableTheory]
    [InlineData(false)]
    [InlineData(true)]
    public void Prove_WrappingCard_EndsWithOneAndTheTrueSize(bool full)
    {
        using CardExport card = Export(new WrapLayer(new CardStore(BlankContent.Zeros, 1), True));
        Finished finished = _workshop.Agent(Arguments(card, full ? ["--json", "--full"] : ["--json"])).Expect(1);
        JsonElement json = JsonDocument.Parse(finished.Output).RootElement;
        Assert.Equal((True, "wrap"), (json.GetProperty("trueBytes").GetInt64(), json.GetProperty("kind").GetString()));
        Assert.Equal(
            [(0, True, "kept"), (True, Size, "wrapped")],
            json.GetProperty("ranges").EnumerateArray().Select(r => (r.GetProperty("startBytes").GetInt64(), r.GetProperty("endBytes").GetInt64(), r.GetProperty("state").GetString()!)));
        Assert.Contains(json.GetProperty("findings").EnumerateArray(), f => f.GetProperty("severity").GetString() == "contradiction");
    }

    [SkippableFact]
    public void Prove_WithAClaim_EndsWithTheVerdictThatThisAllowsAndNoMore()
    {
        using CardExport card = Export(new CardStore(BlankContent.OldFiles, 1));
        string verdict = _workshop.Agent(Arguments(card, "--claim-gb", "0.042")).Output;
        Assert.Contains("Verdict: not proven", verdict, StringComparison.Ordinal); // a loop device shows no registers
        Assert.Contains("for a better one: Readable registers", verdict, StringComparison.Ordinal);

        using CardExport wrapping = Export(new WrapLayer(new CardStore(BlankContent.Zeros, 1), True));
        Assert.Contains("Verdict: not as claimed", _workshop.Agent(Arguments(wrapping, "--claim-gb", "0.042")).Expect(1).Output, StringComparison.Ordinal);
        Assert.Contains("--claim-gb", _workshop.Agent(Arguments(wrapping, "--claim-gb", "much")).Expect(2).Errors, StringComparison.Ordinal);
    }

    [SkippableFact]
    public void Prove_WithoutConsent_IsRefusedAndWritesNothing()
    {
        var watched = new WatchedLayer(new CardStore(BlankContent.Zeros, 1));
        using CardExport card = Export(watched);
        Finished finished = _workshop.Agent("prove", card.DevicePath, "--allow-fixed-disk").Expect(2);
        Assert.Contains("--erase", finished.Errors, StringComparison.Ordinal);
        _workshop.Agent("prove", card.DevicePath, "--pause", "--allow-fixed-disk", "--erase", Identity(card)).Expect(2);
        Assert.Equal(0, watched.BlocksWritten);
    }

    [SkippableTheory]
    [InlineData(false)]
    [InlineData(true)]
    public void Measure_PlanThatBeginsWithAProof_ProvesThenMeasures(bool wraps)
    {
        string plan = Path.Combine(_workshop.Root, "proving.json");
        File.WriteAllText(plan, """
            { "name": "proving", "version": "1", "regionBytes": "8 MiB", "repetitions": 1,
              "steps": [ { "kind": "capacityProof" }, { "kind": "randomRead", "seconds": 0.2 } ] }
            """);
        CardLayer store = new CardStore(BlankContent.Zeros, 1);
        using CardExport card = Export(wraps ? new WrapLayer(store, True) : store);
        Finished finished = _workshop.Agent(["measure", .. Arguments(card, "--plan", plan, "--json")[1..]]).Expect(wraps ? 1 : 0);
        JsonElement json = JsonDocument.Parse(finished.Output).RootElement;
        Assert.Contains(json.GetProperty("notes").EnumerateArray(), n => n.GetString()!.StartsWith(wraps ? "Overstated" : "No overstatement found", StringComparison.Ordinal));
        Assert.Equal(4, json.GetProperty("trials").GetArrayLength()); // the first reads and the later ones, and once more at the end
        _workshop.Agent("measure", _workshop.Scratch, "--plan", "capacity-sparse").Expect(2);
    }

    [SkippableFact]
    public void Prove_Folder_FillsFreeSpaceAndLeavesFilesAlone()
    {
        using CardExport card = Export(new CardStore(BlankContent.Zeros, 1), 128 << 20);
        Running.Run("mkfs.ext4", "-q", "-F", "-E", "lazy_itable_init=0,lazy_journal_init=0", card.DevicePath).Expect(0);
        string mount = Directory.CreateDirectory(Path.Combine(_workshop.Root, "mounted")).FullName;
        Running.Run("mount", card.DevicePath, mount).Expect(0);
        try
        {
            File.WriteAllText(Path.Combine(mount, "dear"), "dear to me");
            Finished finished = _workshop.Agent("prove", mount, "--json").Expect(0);
            JsonElement json = JsonDocument.Parse(finished.Output).RootElement;
            Assert.InRange(json.GetProperty("blocksRead").GetInt64(), 5_000, 30_000);
            Assert.Contains("no proof of the capacity", finished.Output, StringComparison.Ordinal);
            Assert.Equal("dear to me", File.ReadAllText(Path.Combine(mount, "dear")));
            Assert.Equal(["dear", "lost+found"], Directory.EnumerateFileSystemEntries(mount).Select(e => Path.GetFileName(e)).Order());
        }
        finally
        {
            Running.Run("umount", mount).Expect(0);
        }
    }

    [SkippableTheory]
    [InlineData(false)]
    [InlineData(true)]
    public void Prove_FullKilledAtManyPoints_GoesOnAndComesToTheSameEnd(bool wraps)
    {
        int kills = Environment.GetEnvironmentVariable("CARDASSAY_FULL") == "1" ? 20 : 6;
        CardLayer store = new CardStore(BlankContent.Zeros, 1);
        var watched = new WatchedLayer(wraps ? new WrapLayer(store, True) : store);
        using CardExport card = Export(watched);
        string[] arguments = Arguments(card, "--full", "--json", "--checkpoint", "1 MiB");
        int resumed = 0;
        for (int i = 1; i <= kills; i++)
        {
            using Running agent = Running.Start(Repository.Agent, [.. arguments, "--data", _workshop.AgentData]);
            watched.Call = agent.Signal;
            watched.CallAt = watched.Transfers + (2 * Size / 4096 / (kills + 1));
            Finished cut = agent.Wait().Expect(137); // 128 + SIGKILL
            resumed += cut.Errors.Contains("goes on from there", StringComparison.Ordinal) ? 1 : 0;
            Assert.DoesNotContain("begins anew.", cut.Errors, StringComparison.Ordinal);
        }

        watched.CallAt = long.MaxValue;
        Finished finished = _workshop.Agent(arguments).Expect(wraps ? 1 : 0);
        JsonElement json = JsonDocument.Parse(finished.Output).RootElement;
        Assert.Equal(wraps ? "wrap" : "noneFound", json.GetProperty("kind").GetString());
        Assert.Equal(wraps ? True.ToString(CultureInfo.InvariantCulture) : "null", json.GetProperty("trueBytes").GetRawText());
        Assert.Equal(Size / 4096, json.GetProperty("blocksRead").GetInt64());
        Assert.Contains(json.GetProperty("findings").EnumerateArray(), f => f.GetProperty("id").GetString() == "proof-resumed");
        Assert.Equal(kills - 1, resumed);

        // It never began anew: at most a checkpoint and the buffers were written twice for each kill, and the last look at the top.
        long most = (Size / 4096) + (kills * 6 * 256) + (Size / 4096 / 2);
        Assert.InRange(watched.BlocksWritten, Size / 4096, most);
    }

    [SkippableTheory]
    [InlineData("formatted")]
    [InlineData("one block")]
    public void Prove_FullCutOffAndTheCardUsed_IsWrittenAgainAndAccusesNobody(string use)
    {
        var watched = new WatchedLayer(new CardStore(BlankContent.Zeros, 1));
        using CardExport card = Export(watched);
        string[] arguments = Arguments(card, "--full", "--json", "--checkpoint", "1 MiB");
        using (Running agent = Running.Start(Repository.Agent, [.. arguments, "--data", _workshop.AgentData]))
        {
            watched.Call = agent.Signal;
            watched.CallAt = 6000;
            agent.Wait().Expect(137);
        }

        watched.CallAt = long.MaxValue;
        if (use == "formatted")
        {
            Running.Run("mkfs.ext4", "-q", "-F", card.DevicePath).Expect(0);
        }
        else
        {
            Running.Run("dd", "if=/dev/zero", $"of={card.DevicePath}", "bs=4096", "count=1", "seek=700", "conv=fsync", "oflag=direct", "status=none").Expect(0);
        }

        Finished finished = _workshop.Agent(arguments).Expect(0);
        Assert.Contains("is not judged: the kernel counted other writes to the card since", finished.Errors, StringComparison.Ordinal);
        Assert.Equal("noneFound", JsonDocument.Parse(finished.Output).RootElement.GetProperty("kind").GetString());
    }

    [SkippableFact]
    public void Prove_DeliveredToTheCollector_ReachesVerdictAndReport()
    {
        (Running collector, string address, _) = _workshop.Serve();
        using (collector)
        {
            using CardExport card = Export(new DropLayer(new CardStore(BlankContent.Zeros, 1), at => at >= True, 0xFF));
            Finished finished = _workshop.Agent(Arguments(card, "--tag", "T-31", "--collector", address)).Expect(1);
            Assert.Contains("have the collector's receipt", finished.Errors, StringComparison.Ordinal);
            JsonElement reported = _workshop.Report().GetProperty("cards").EnumerateArray().Single(c => c.GetProperty("tag").GetString() == "T-31");
            Assert.Equal("not as claimed", reported.GetProperty("verdict").GetString());
            JsonElement proof = reported.GetProperty("capacity").GetProperty("proof");
            Assert.Equal((True, "drop"), (proof.GetProperty("trueBytes").GetInt64(), proof.GetProperty("kind").GetString()));
            Assert.Contains("Address space", _workshop.Collector("report", "--format", "html").Expect(0).Output, StringComparison.Ordinal);
        }
    }

    public void Dispose() => _workshop.Dispose();

    private static CardExport Export(CardLayer card, long bytes = Size)
    {
        Skip.IfNot(CardExport.IsPossible, "needs root, /dev/fuse and loop devices");
        return new CardExport(card, bytes);
    }

    private string Identity(CardExport card) =>
        JsonDocument.Parse(_workshop.Agent("identify", card.DevicePath, "--json").Output).RootElement.GetProperty("identity").GetString()!;

    private string[] Arguments(CardExport card, params string[] more) =>
        ["prove", card.DevicePath, "--allow-fixed-disk", "--erase", Identity(card), .. more];
}
