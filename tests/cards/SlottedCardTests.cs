using Cardassay.Agent.Commands;
using Cardassay.Agent.Delivery;
using Cardassay.Agent.Sysfs;
using Cardassay.Identity;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Cards.Tests;

/// <summary>Whole runs on a served card that shows registers, as `prove`, `measure` and the service make them.</summary>
public sealed class SlottedCardTests : IDisposable
{
    private const string Plan = """
        { "name": "night", "version": "1", "regionBytes": "4 MiB", "repetitions": 1,
          "steps": [ { "kind": "capacityProof", "minutes": 0.1, "once": true, "onFolder": "skip" }, { "kind": "randomRead", "seconds": 0.1 }, { "kind": "randomWrite", "seconds": 0.1, "bytes": "1 MiB" } ] }
        """;

    private readonly DirectoryInfo _directory = Directory.CreateTempSubdirectory("cardassay-slotted-");

    private AgentFolder Folder => new(Path.Combine(_directory.FullName, "agent"));

    public void Dispose() => _directory.Delete(recursive: true);

    [SkippableFact]
    public async Task Prove_CardWithCountersInItsStatus_IsOneCardAndAsClaimed()
    {
        ServedCard.SkipWhereImpossible();
        using var card = new SlottedCard($"size={32 << 20}");
        card.Count(0);
        CardSighting before = CardSighting.Take(card.Tree, "mmcblk1")!;
        using var done = new CancellationTokenSource();
        int counted = 0;
        var counting = new Thread(() => // not of the pool, whose threads other tests may have
        {
            while (!done.IsCancellationRequested)
            {
                card.Count(++counted);
            }
        });
        counting.Start();
        ProveRun run = ProveRun.Prepare(Request(before), new ProveOptions(), card.Tree, Folder);
        ProveResult result;
        try
        {
            using ObservationJournal journal = Journal();
            result = run.Execute(journal, new RunDisplay(TextWriter.Null, false), CancellationToken.None);
        }
        finally
        {
            await done.CancelAsync();
            counting.Join();
        }

        Assert.True(counted > 10, $"it counted to {counted} only");
        Assert.True(result.IsClean, result.Reason);
        Assert.Equal((ProofWord.NoOverstatementFound, true), (result.Judgement.Word, result.Judgement.IsWhole));
        CardSighting after = CardSighting.Take(card.Tree, "mmcblk1")!;
        CardRegisters first = Registers(before);
        CardRegisters last = Registers(after);
        Assert.NotEqual(before.Files["ssr"], after.Files["ssr"]);
        DateTimeOffset evening = new(2031, 3, 12, 20, 0, 0, TimeSpan.Zero);
        CardJudgement judged = CardJudge.Judge(new CardEvidence
        {
            Registers = last,
            Claim = new Claim { Tag = "T-07", LabelGigabytes = 64, Marks = [] },
            Today = new DateOnly(2031, 3, 13),
            Proof = CapacityProofSummary.Of([result.Proof]),
            Sightings = [new("T-07", "bench-1", "mmcblk1", evening, evening.AddHours(1), first), new("T-07", "bench-1", "mmcblk1", evening.AddHours(2), evening.AddHours(3), last)],
        });

        // The disk is as large as the served card, which the registers of 62 GB rightly contradict; nothing else is.
        Assert.All(judged.Findings.Where(f => f.Severity != FindingSeverity.Note), f => Assert.Equal("capacity-against-disk", f.Id));
    }

    [SkippableFact]
    public void Measure_PlanThatProvesOnce_ProvesEachCardOnce()
    {
        ServedCard.SkipWhereImpossible();
        using var card = new SlottedCard($"size={32 << 20}");
        MeasureRun first = Prepare(card, "T-07");
        Assert.True(first.Estimate.ProofSecondsAtMost >= 6, $"{first.Estimate}");
        Assert.Contains(first.Announcement(), line => line.Contains("0.1 minutes of capacity proof, once for this card", StringComparison.Ordinal));
        RunResult proven = Execute(first);
        Assert.Equal(ProofWord.NoOverstatementFound, ProofJudgement.Of(proven.Summary.Proof!).Word);
        Assert.Contains(proven.Trials, t => t.Kind == TrialKind.RandomRead);
        Assert.True(first.ProofTime > TimeSpan.Zero);

        // Another night: neither proof nor its time and bytes, and the reason is said.
        MeasureRun second = Prepare(card, "T-07");
        Assert.Equal(0, second.Estimate.ProofSecondsAtMost);
        Assert.Equal(first.Estimate.SecondsAtMost - first.Estimate.ProofSecondsAtMost, second.Estimate.SecondsAtMost, 6);
        Assert.True(second.Estimate.WriteBytesAtMost <= first.Estimate.WriteBytesAtMost - (32 << 20), $"{second.Estimate}");
        Assert.Contains(second.Announcement(), line => line.Contains($"not proven again: run {proven.RunId} did", StringComparison.Ordinal));
        RunResult again = Execute(second);
        Assert.Null(again.Summary.Proof);
        Assert.Contains(again.Summary.Notes, note => note.Contains("not proven again", StringComparison.Ordinal));
        Assert.Contains(again.Trials, t => t.Kind == TrialKind.RandomRead);

        // Two stickers are two cards, whatever their registers say; and a device without registers cannot be known again.
        Assert.True(Prepare(card, "T-08").Estimate.ProofSecondsAtMost > 0);
        card.HideRegisters();
        MeasureRun hidden = Prepare(card, "T-07");
        Assert.Equal(0, hidden.Estimate.ProofSecondsAtMost);
        Assert.Contains(hidden.Announcement(), line => line.Contains("shows no registers", StringComparison.Ordinal));
    }

    [SkippableFact]
    public void Measure_LongWriteThenFullProof_IsTheOnlyPassOverTheCard()
    {
        const int CardBytes = 128 << 20;
        ServedCard.SkipWhereImpossible();
        using var card = new SlottedCard($"size={CardBytes}");
        RunResult result = Execute(Prepare(card, "T-07", WholeCard("2")));
        Assert.Equal(RunOutcome.Completed, result.Summary.Outcome);
        Assert.Equal(ProofWord.NoOverstatementFound, ProofJudgement.Of(result.Summary.Proof!).Word);
        // The served card is quicker than the bus of the registers it shows, which makes its figures invalid; its content is what is asked here.
        Assert.Equal([TrialKind.Cliff, .. Enumerable.Repeat(TrialKind.RandomRead, 4)], result.Trials.Select(t => t.Kind));
        const int Overwrite = Plans.SmallOverwrite.Operations * 4096;
        Assert.Equal([(1, Overwrite), (2, Overwrite), (1, 2 * Overwrite), (2, 2 * Overwrite)], result.Trials.Skip(1).Select(t => (t.Pass, (int)t.SinceWholeBytes!.Value)));
        Assert.All(result.Trials.Skip(1), t => Assert.True(t.ContentKnown));

        // 8 MiB of long write, then the proof: every block, and once more what pushes its end out of a cache. Nothing else but the small overwrites before two reads.
        Assert.Equal((8 << 20) + ((result.Summary.Proof!.BlocksWritten + result.Summary.Proof.EvictionBlocks) * 4096) + (2 * Overwrite), result.Summary.BytesWritten);

        // Proven once, the next run makes the pass itself; a budget that has no room for a proof leaves it out. A night's runs share one budget.
        MeasureRun second = Prepare(card, "T-07", WholeCard("2"));
        Assert.Equal((2 * CardBytes) - result.Summary.BytesWritten, second.Estimate.WriteBytesAtMost);
        RunResult refused = Execute(second);
        Assert.Equal((RunOutcome.Failed, 8 << 20), (refused.Summary.Outcome, refused.Summary.BytesWritten)); // the long write had room, the filling had not
        Assert.Contains(", of which earlier runs have used ", refused.Summary.Reason, StringComparison.Ordinal);
        RunResult again = Execute(Prepare(card, "T-07", WholeCard("4")));
        Assert.Null(again.Summary.Proof);
        Assert.Equal((8 << 20) + CardBytes + (2 * Overwrite), again.Summary.BytesWritten); // the long write filled no piece of 64 MiB
        MeasureRun tight = Prepare(card, "T-08", WholeCard("1.5"));
        Assert.Equal(0, tight.Estimate.ProofSecondsAtMost);
        string[] said = [.. tight.Announcement()];
        Assert.Contains(Prepare(card, "T-07", WholeCard("2")).Announcement(), line => line.Contains("times the card a night, of which ", StringComparison.Ordinal));
        Assert.DoesNotContain(said, line => line.Contains(" are used", StringComparison.Ordinal)); // another card, by its sticker
        Assert.Contains(said, line => line.Contains(", within a budget of 1.5 times the card a night", StringComparison.Ordinal));
        Assert.Contains(said, line => line.Contains("a proof would pass what is left of the plan's budget of 1.5 times the card a night", StringComparison.Ordinal));

        static string WholeCard(string times) => $$"""
            { "name": "whole", "version": "1", "repetitions": 1, "regionBytes": "4 MiB", "limits": { "maxCapacities": {{times}} },
              "steps": [ { "kind": "cliff", "bytes": "8 MiB", "restSeconds": 0, "recoveryBytes": 0 }, { "kind": "capacityProof", "proof": "full", "once": true },
                { "kind": "randomRead", "seconds": 3, "range": { "percent": 100 } } ] }
            """;
    }

    [SkippableFact]
    public void ProvenCard_RemembersWhatSaysMost()
    {
        ServedCard.SkipWhereImpossible();
        using var card = new SlottedCard($"size={32 << 20}");
        ProvenCard proven = ProvenCard.For(Folder, RunSite.Find(Request(CardSighting.Take(card.Tree, "mmcblk1")!), card.Tree, Folder))!;
        var hour = new PlanProof(PlanProofKind.Sparse, 60, Once: true);
        var whole = new PlanProof(PlanProofKind.Full, Once: true);
        ProofMeasured Proof(double minutes, bool isComplete = true) => new()
        {
            RunId = new RunId(Guid.NewGuid()), Complete = isComplete, Kind = ProofKind.Sparse, ClaimedBytes = 64L << 30, CoveredBytes = 64L << 30, BlocksRead = 80_000,
            Finding = ProofFinding.NoneFound, Counts = new BlockCounts(80_000, 0, 0, 0, 0, 0), BudgetNs = (long)TimeSpan.FromMinutes(minutes).TotalNanoseconds,
        };
        Assert.Null(proven.RunThatProved(hour));
        proven.Remember(Proof(60, isComplete: false)); // not judged: to be repeated
        proven.Remember(Proof(5));
        Assert.Null(proven.RunThatProved(hour));
        ProofMeasured ofAnHour = Proof(60);
        proven.Remember(ofAnHour);
        proven.Remember(Proof(10));
        Assert.Equal((ofAnHour.RunId.ToString(), null), (proven.RunThatProved(hour), proven.RunThatProved(whole)));
        ProofMeasured full = Proof(0) with { Kind = ProofKind.Full };
        proven.Remember(full);
        Assert.Equal((full.RunId.ToString(), full.RunId.ToString()), (proven.RunThatProved(hour), proven.RunThatProved(whole)));
    }

    private static RunRequest Request(CardSighting card, string tag = "T-07") => new() { Target = "mmcblk1", Tag = tag, EraseIdentity = card.Identity.Text };

    private static CardRegisters Registers(CardSighting card) => CardRegisters.From(card.Files, card.DiskBytes, card.Attachment);

    private MeasureRun Prepare(SlottedCard card, string tag, string plan = Plan) =>
        MeasureRun.Prepare(Request(CardSighting.Take(card.Tree, "mmcblk1")!, tag), PlanReader.Parse(plan, "night"), card.Tree, Folder);

    private RunResult Execute(MeasureRun run)
    {
        using ObservationJournal journal = Journal();
        return run.Execute(journal, new RunDisplay(TextWriter.Null, false), CancellationToken.None);
    }

    private ObservationJournal Journal() => ObservationJournal.Open(Folder.Journal, TimeProvider.System, Guid.NewGuid());
}
