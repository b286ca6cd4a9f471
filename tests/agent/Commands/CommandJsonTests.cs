using Cardassay.Agent.Commands;
using Cardassay.Agent.Sysfs;
using Cardassay.Agent.Trials;
using Cardassay.Trials;

namespace Cardassay.Agent.Tests.Commands;

/// <summary>What `measure --json` and `prove --json` print, key by key: programs read it.</summary>
public class CommandJsonTests
{
    private static readonly RunId Run = new(Guid.Parse("0f8fad5b-d9cb-469f-a165-70867728950e"));
    private static readonly ResolvedTarget Target = new() { Kind = TargetKind.Device, Path = "/dev/mmcblk0" };

    [Fact]
    public void Measure_TrialsOfAnyKind_PrintTheGoldenJson()
    {
        TrialMeasured random = Trial(TrialKind.RandomRead) with { Role = TrialRole.WarmUp, Valid = false, Reasons = ["The link erred 2 times."] };
        TrialMeasured write = Trial(TrialKind.ClassWrite) with { Standard = ClassStandard.VideoClass, SegmentBytes = 4 << 20, Units = 8, SlowestUnitNs = 300_000_000, FastestUnitNs = 200_000_000 };
        var summary = new RunSummary { Outcome = RunOutcome.Interrupted, Reason = "The card was taken out.", BytesWritten = 32 << 20, Notes = ["A step did not settle."] };
        Golden.Check("measure.json", MeasureJson.Render(new RunResult(Run, Target, null, [random, write, Trial(TrialKind.SequentialRead) with { Latency = new LatencyHistogram() }], summary), "T-07") + "\n");
    }

    [Fact]
    public void Prove_CardThatWraps_PrintsTheGoldenJson()
    {
        var proof = new ProofMeasured
        {
            RunId = Run, Kind = ProofKind.Sparse, Complete = true, ClaimedBytes = 64_000_000_000, CoveredBytes = 64_000_000_000, BlocksWritten = 4_000, BlocksRead = 4_000,
            Finding = ProofFinding.Wrap, TrueBytes = 8_000_000_000, AliasStepBytes = 8_000_000_000, Counts = new BlockCounts(500, 3_500, 0, 0, 0, 0), RandomProbes = 300, RandomLost = 260,
            Ranges = [new ProofRange(0, 8_000_000_000, BlockState.Kept), new ProofRange(8_000_000_000, 64_000_000_000, BlockState.Wrapped), new ProofRange(64_000_000_000, 64_000_004_096, BlockState.NotProbed)],
        };
        Golden.Check("prove.json", ProveJson.Render(new ProveResult(Run, Target, proof, RunOutcome.Completed, null)) + "\n");
        Golden.Check("prove-unbroken.json", ProveJson.Render(new ProveResult(Run, Target, proof with { TrueBytes = null, AliasStepBytes = 0, Finding = ProofFinding.NoneFound, Counts = new BlockCounts(4_000, 0, 0, 0, 0, 0), RandomLost = 0, LostFractionBelow = 0.0099, Ranges = [] }, RunOutcome.Completed, null)) + "\n");
    }

    private static TrialMeasured Trial(TrialKind kind)
    {
        var latency = new LatencyHistogram();
        for (int i = 1; i <= 200; i++)
        {
            latency.Record(i * 10_000);
        }

        return new TrialMeasured { RunId = Run, Kind = kind, BlockBytes = 4_096, Operations = 200, Bytes = 819_200, ElapsedNs = 1_500_000_000, Latency = latency, StallLimitNs = 100_000_000, ContentKnown = true };
    }
}
