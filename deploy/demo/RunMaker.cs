using System.Globalization;
using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Demo;

/// <summary>Makes the runs of one board: opening, identity, rounds of trials with rests between them, closing.</summary>
internal sealed class RunMaker(Board board, BoardClock clock, List<Stamped> journal)
{
    private readonly Dictionary<string, long> _odometers = new(StringComparer.Ordinal);
    private int _runs;

    /// <summary>One run to its end.</summary>
    public void Complete(Card card, SlotState slot, NightPlan plan, int night)
    {
        RunId runId = Open(card, slot, plan);
        long written = Rounds(card, slot, plan, night, runId, "run", mostTrials: int.MaxValue);
        Close(card, runId, written, RunOutcome.Completed, reason: null);
    }

    /// <summary>A capacity proof, after which nothing of what was on the card is left.</summary>
    public void Prove(Card card, SlotState slot, ProofKind kind)
    {
        string name = kind == ProofKind.Full ? "full" : "sparse";
        RunId runId = Open(card, slot, opened => opened with
        {
            PlanName = "capacity-proof",
            PlanVersion = "1",
            PlanText = $"{{\"name\":\"capacity-proof\",\"version\":\"1\",\"kind\":\"{name}\"}}",
            PlannedWriteBytes = ProofPicture.MostBytesWritten(card.Silicon, kind),
        });
        Chance chance = ChanceFor($"{name} proof of {card.Tag}");
        ProofMeasured proof = ProofPicture.Draw(runId, card.Silicon, kind, chance);
        Pace pace = slot.HighSpeedOnly ? card.Silicon.Pace.OnHighSpeedBus() : card.Silicon.Pace;
        Conditions before = slot.Sample(chance, warmth: 0.2);
        long single = kind == ProofKind.Full ? 0 : proof.BlocksWritten - (proof.LatticeBlocks / 2);
        long writeNs = Time(proof.BlocksWritten + proof.EvictionBlocks - single, pace.SequentialWriteMegabytes, single, pace.RandomWriteOps);
        long readNs = Time(proof.BlocksRead - single, pace.SequentialReadMegabytes, single, pace.RandomReadOps);
        long written = (proof.BlocksWritten + proof.EvictionBlocks) * ProofMeasured.BlockBytes;
        slot.Count(writes: true, proof.BlocksWritten, written);
        slot.Count(writes: false, proof.BlocksRead, proof.BlocksRead * ProofMeasured.BlockBytes);
        clock.Advance(writeNs + readNs);
        Write(proof with { WriteNs = writeNs, ReadNs = readNs, Before = before, After = slot.Sample(chance, warmth: 1) });
        Close(card, runId, written, RunOutcome.Completed, reason: null);

        long Time(long inRows, double megabytesPerSecond, long one, double operationsPerSecond) =>
            (long)(((inRows * ProofMeasured.BlockBytes / (megabytesPerSecond * 1e6)) + (one / operationsPerSecond)) / board.Pull * 1e9);
    }

    /// <summary>A run that ends in a power cut; the agent closes it when the board is back.</summary>
    /// <param name="card">Card.</param>
    /// <param name="slot">Slot it is in.</param>
    /// <param name="plan">Plan.</param>
    /// <param name="night">Night, from 0.</param>
    /// <param name="afterTrials">Trials the run has behind it.</param>
    /// <param name="startSlots">Lets the slots of the board start anew.</param>
    public void CutOff(Card card, SlotState slot, NightPlan plan, int night, int afterTrials, Action startSlots)
    {
        RunId runId = Open(card, slot, plan);
        long written = Rounds(card, slot, plan, night, runId, "run cut off", afterTrials);
        clock.PowerCut(darkSeconds: 412);
        startSlots();
        Close(card, runId, written, RunOutcome.Interrupted, "The board lost its power during the run.");
    }

    private RunId Open(Card card, SlotState slot, NightPlan plan)
    {
        bool folder = plan.Target == TargetKind.Folder;
        return Open(card, slot, opened => opened with
        {
            Target = plan.Target,
            TargetPath = folder ? $"/media/{slot.DiskName}p1/assay" : opened.TargetPath,
            TargetBytes = folder ? plan.Steps[0].RangeBytes : opened.TargetBytes,
            FileSystem = folder ? "ext4" : null,
            MountOptions = folder ? "rw,noatime" : null,
            PlanName = plan.Name,
            PlanVersion = plan.Version,
            PlanText = plan.Text(card.Repetitions),
            PlannedWriteBytes = plan.MostBytesWritten(card.Repetitions),
        });
    }

    private RunId Open(Card card, SlotState slot, Func<RunOpened, RunOpened> planned)
    {
        Chance chance = ChanceFor($"run {_runs++} of {board.Name} for {card.Tag}");
        var runId = new RunId(chance.Guid());
        Write(planned(new RunOpened
        {
            RunId = runId,
            Tag = card.Tag,
            Target = TargetKind.Device,
            TargetPath = $"/dev/{slot.DiskName}",
            TargetBytes = card.Silicon.CapacityBytes,
            DiskName = slot.DiskName,
            DiskSequence = slot.DiskSequence,
            Attachment = Attachment.Slot,
            PlanName = "",
            PlanVersion = "",
            PlanText = "",
            Seed = chance.Bits(),
            HostName = board.Name,
            BoardModel = Board.Model,
            KernelRelease = "6.12.43-arm64",
            BootId = clock.BootId.ToString("D"),
            AgentVersion = "0.1.0",
            Invented = true,
        }));
        clock.Advance(200_000_000);
        CardIdentity identity = CardIdentity.FromCid(RegisterFiles.CidOf(card));
        Write(new CardIdentified
        {
            RunId = runId,
            Identity = identity.Text,
            IdentityFromRegisters = identity.FromRegisters,
            DiskName = slot.DiskName,
            DiskBytes = card.Silicon.CapacityBytes,
            Attachment = Attachment.Slot,
            Files = RegisterFiles.Of(card),
        });
        clock.Advance(300_000_000);
        Write(new ConditionsSampled { RunId = runId, Conditions = slot.Sample(chance, warmth: 0) });
        return runId;
    }

    /// <summary>All rounds: one of warm-up, the measured ones, and the first trial once more. Returns the bytes written.</summary>
    private long Rounds(Card card, SlotState slot, NightPlan plan, int night, RunId runId, string purpose, int mostTrials)
    {
        var maker = new TrialMaker(clock, slot, plan, runId);
        Chance[] chances = [.. plan.Steps.Select(s => ChanceFor($"{purpose} {card.Tag} night {night} {s.Kind}"))];
        double[] rates = [.. plan.Steps.Select((s, i) => Rate(card, slot, s, night, chances[i]))];
        double[][] noise = [.. chances.Select(c => c.Spread(card.Repetitions))];
        int index = 0;
        long written = 0;
        for (int round = 0; round <= card.Repetitions; round++)
        {
            for (int s = 0; s < plan.Steps.Count; s++)
            {
                double measured = round == 0 ? 0.955 : 1 + (plan.Steps[s].Deviation * Steadiness(card) * noise[s][round - 1]);
                Trial(s, Math.Max(1, round), round == 0 ? TrialRole.WarmUp : TrialRole.Measured, rates[s] * measured);
            }
        }

        Trial(0, repetition: 1, TrialRole.Closing, rates[0] * (1 + (0.004 * chances[0].TameBell())));
        return written;

        void Trial(int step, int repetition, TrialRole role, double rate)
        {
            if (index >= mostTrials)
            {
                return;
            }

            clock.Advance(NightPlan.RestSeconds * 1_000_000_000L);
            bool underVoltage = Story.IsUnderVoltage(card, plan, night, plan.Steps[step].Kind, repetition, role);
            TrialMeasured trial = maker.Make(new TrialOrder(
                plan.Steps[step], index, repetition, role, underVoltage ? rate * 0.81 : rate, Stalls(card, plan.Steps[step], night), underVoltage), chances[step]);
            index++;
            written += plan.Steps[step].Writes ? trial.Bytes : 0;
            Write(trial);
        }
    }

    private void Close(Card card, RunId runId, long written, RunOutcome outcome, string? reason)
    {
        long odometer = _odometers.GetValueOrDefault(card.Tag) + written;
        _odometers[card.Tag] = odometer;
        clock.Advance(100_000_000);
        Write(new RunClosed { RunId = runId, Outcome = outcome, Reason = reason, BytesWritten = written, OdometerBytes = odometer });
    }

    private double Rate(Card card, SlotState slot, PlanStep step, int night, Chance chance)
    {
        Pace pace = slot.HighSpeedOnly ? card.Silicon.Pace.OnHighSpeedBus() : card.Silicon.Pace;
        double rate = step.OperationsPerSecond(pace) * board.Pull;
        rate *= 1 + (0.010 * ChanceFor($"specimen {card.Tag} {step.Kind}").TameBell());
        rate *= 1 + (0.003 * chance.TameBell());
        return card.Fault == Fault.Worn ? rate * Story.Wear(step.Kind, night) : rate;
    }

    // A card somebody vouches for was chosen for being steady.
    private static double Steadiness(Card card) => card.IsReference ? 0.7 : 1;

    private static int Stalls(Card card, PlanStep step, int night) => card.Fault == Fault.Worn && step.Writes ? 1 + (2 * night) : 0;

    private static Chance ChanceFor(FormattableString purpose) => new(Tarrow.Seed, purpose.ToString(CultureInfo.InvariantCulture));

    private void Write(Observation observation) => journal.Add(new Stamped(clock.Now, observation));
}
