using Cardassay.Agent.BlockIo;
using Cardassay.Agent.Trials;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Agent.Tests.Trials;

/// <summary>The long write that a plan begins with.</summary>
[Collection("machine")]
public sealed class CliffTests
{
    private const int CardBytes = 320 << 20;
    private const int PieceBytes = 64 << 20;

    /// <summary>What two random reads overwrite before.</summary>
    private const long OverwrittenBytes = 2 * SmallOverwrite.Operations * 4096;

    private const string Text = """
        {
          "name": "long", "version": "1", "repetitions": 1, "regionBytes": "8 MiB",
          "steps": [
            { "kind": "cliff", "bytes": "128 MiB", "restSeconds": 0, "recoveryBytes": "64 MiB" },
            { "kind": "randomRead", "seconds": 5, "operations": 50, "range": { "percent": 100 } },
          ],
        }
        """;

    [Fact]
    public void Run_Cliff_WritesFirstOnceAndInOrderIntoUnwrittenSpace()
    {
        using var target = new MemoryTarget(CardBytes) { Records = true };
        (RunSummary summary, List<TrialMeasured> trials) = Run(target, Plan(Text));
        Assert.Equal(RunOutcome.Completed, summary.Outcome);
        Assert.Equal([(TrialKind.Cliff, false), (TrialKind.Cliff, true), (TrialKind.RandomRead, false), (TrialKind.RandomRead, false), (TrialKind.RandomRead, false), (TrialKind.RandomRead, false)], trials.Select(t => (t.Kind, t.Recovery)));
        Assert.Equal([0, 1, 2, 3, 4, 5], trials.Select(t => t.Index));
        TrialMeasured write = trials[0], recovery = trials[1];
        Assert.Equal((128L << 20, 64L << 20, true, true), (write.Bytes, recovery.Bytes, write.RangeMoves, recovery.RangeMoves));
        Assert.Equal(write.RangeStartBytes + write.RangeBytes, recovery.RangeStartBytes);
        Assert.Equal((0, 0), (write.Part, write.RangeStartBytes % PieceBytes));

        // The very first transfers are these, ascending, each place once.
        (char, long, int)[] expected = [.. Enumerable.Range(0, 384).Select(i => ('w', write.RangeStartBytes + (i * (512L << 10)), 512 << 10))];
        Assert.Equal(expected, target.Log.Where(o => o.Operation != 'f').Take(384));

        // What it wrote is not written again, but read back with the rest before the first read that counts.
        Assert.Equal(CardBytes + OverwrittenBytes, summary.BytesWritten);
        Assert.Equal(CardBytes, target.Log.SkipWhile(o => o.Operation != 'r').TakeWhile(o => o.LengthBytes > 4096).Sum(o => (long)o.LengthBytes));
        Assert.All(trials, t => Assert.True(t.Valid && (t.ContentKnown || t.Kind == TrialKind.Cliff)));
        Assert.Contains(summary.Notes, n => n.StartsWith("A long write of 0.13 GB at ", StringComparison.Ordinal));
    }

    [Fact]
    public void Run_OtherSeeds_WriteOtherPlaces()
    {
        var starts = new HashSet<long>();
        for (ulong seed = 0; seed < 12; seed++)
        {
            using var target = new MemoryTarget(CardBytes);
            starts.Add(Run(target, Plan(Text) with { Steps = [] }, seed).Trials[0].RangeStartBytes);
        }

        Assert.Equal([0, PieceBytes, 2L * PieceBytes], starts.Order()); // 192 of 320 MiB, in pieces of 64
    }

    [Fact]
    public void Run_ProofBetween_IsWhatTheTrialsRead()
    {
        using var target = new MemoryTarget(CardBytes) { Records = true };
        int writesBefore = 0;
        (RunSummary summary, List<TrialMeasured> trials) = Run(target, Plan(Text), prove: () =>
        {
            writesBefore = target.Log.Count(o => o.Operation == 'w');
            target.Log.Clear();
            return Fill(target, wrong: null);
        });
        Assert.Equal(384, writesBefore);
        Assert.Equal(RunOutcome.Completed, summary.Outcome);
        Assert.Equal(OverwrittenBytes, target.Log.Where(o => o.Operation == 'w').Sum(o => (long)o.LengthBytes)); // no other pass
        Assert.All(trials, t => Assert.True(t.Valid, string.Join(' ', t.Reasons)));
        Assert.True(trials[^1].ContentKnown);
        Assert.Equal((192L << 20) + CardBytes + OverwrittenBytes, summary.BytesWritten);
        Assert.Equal(OverwrittenBytes, summary.SinceWholeBytes);
    }

    [Fact]
    public void Run_ProofThatIsNotRight_LeavesNothingKnown()
    {
        using var target = new MemoryTarget(CardBytes) { Records = true };
        (RunSummary summary, List<TrialMeasured> trials) = Run(target, Plan(Text), prove: () => Fill(target, wrong: 5 << 20) with { Nonce = null });
        Assert.Equal((192L << 20) + (2L * CardBytes) + OverwrittenBytes, summary.BytesWritten);
        Assert.True(trials[^1].Valid && trials[^1].ContentKnown);
    }

    [Fact]
    public void Run_ProofThatStops_EndsTheRun()
    {
        using var target = new MemoryTarget(CardBytes);
        (RunSummary summary, List<TrialMeasured> trials) = Run(
            target, Plan(Text), prove: () => new ProvenPass(new RunStop(RunOutcome.Failed, "Stopped."), 4096, 1, WroteWhole: false, null));
        Assert.Equal((RunOutcome.Failed, "Stopped."), (summary.Outcome, summary.Reason));
        Assert.Equal(2, trials.Count);
        Assert.Equal((192L << 20) + 4096, summary.BytesWritten);
    }

    [Fact]
    public void Run_Folder_IsRefusedBeforeAnythingIsWritten()
    {
        using var target = new MemoryTarget(CardBytes) { IsFile = true, Records = true };
        var error = Assert.Throws<TargetException>(() => Run(target, Plan(Text)));
        Assert.Contains("give the device", error.Message, StringComparison.Ordinal);
        Assert.Empty(target.Log);
    }

    [Fact]
    public void Run_WriteBroken_LeavesTheRecoveryOut()
    {
        using var target = new MemoryTarget(CardBytes) { Fault = (operation, _) => operation == 'w' ? Errno.InputOutput : 0 };
        (RunSummary summary, List<TrialMeasured> trials) = Run(target, Plan(Text) with { Steps = [] });
        Assert.Equal(RunOutcome.Failed, summary.Outcome);
        Assert.Single(trials);
        Assert.Empty(summary.Notes);
    }

    private static Plan Plan(string text) => PlanReader.Parse(text, "long");

    /// <summary>Writes every block as a full proof does, one of them wrong if wanted.</summary>
    private static unsafe ProvenPass Fill(MemoryTarget target, int? wrong)
    {
        const ulong Nonce = 77;
        for (int at = 0; at < CardBytes; at += SectorTag.BlockBytes)
        {
            SectorTag.Write(target.Memory + at, at, at == wrong ? Nonce + 1 : Nonce);
        }

        return new ProvenPass(null, CardBytes, 1, WroteWhole: true, Nonce);
    }

    private static (RunSummary Summary, List<TrialMeasured> Trials) Run(MemoryTarget target, Plan plan, ulong seed = 7, Func<ProvenPass>? prove = null)
    {
        var observer = new Collecting();
        var context = new RunContext
        {
            RunId = new RunId(new Guid("0123456789abcdef0123456789abcdef")), Seed = seed, Observer = observer, History = CardHistory.None,
            Prove = prove is null ? null : _ => prove(),
        };
        return (PlanRunner.Run(plan, target, context, CancellationToken.None), observer.Trials);
    }

    private sealed class Collecting : IRunObserver
    {
        public List<TrialMeasured> Trials { get; } = [];

        public void OnPreparing(long bytes)
        {
        }

        public void OnTrialStarting(int index, int total, PlanStep step, int repetition, TrialRole role) => Assert.True(total > index);

        public void OnProgress(RunProgress progress)
        {
        }

        public void OnTrialMeasured(TrialMeasured trial) => Trials.Add(trial);

        public void OnConditions(ConditionsSampled sample)
        {
        }
    }
}
