using System.Globalization;
using Cardassay.Trials;

namespace Cardassay.Demo;

/// <summary>Makes the runs of one board: opening, identity, trials with rests between them, closing.</summary>
internal sealed class RunMaker(Board board, BoardClock clock, List<Stamped> journal)
{
    private const long RestNs = 5_000_000_000;

    private readonly Dictionary<string, long> _odometers = new(StringComparer.Ordinal);
    private int _runs;

    /// <summary>One run to its end.</summary>
    public void Complete(Card card, SlotState slot, NightPlan plan, int night, int runOfCard)
    {
        RunId runId = Open(card, slot, plan, night);
        long written = Trials(card, slot, plan, night, runOfCard, runId, stopAfter: int.MaxValue);
        Close(card, runId, written, RunOutcome.Completed, reason: null);
    }

    /// <summary>A run that ends in a power cut; the agent closes it when the board is back. Every slot starts to count anew.</summary>
    public void CutOff(Card card, SlotState slot, NightPlan plan, int night, int afterTrials, Action boardStartsAgain)
    {
        RunId runId = Open(card, slot, plan, night);
        long written = Trials(card, slot, plan, night, runOfCard: 9, runId, afterTrials);
        clock.PowerCut(darkSeconds: 412);
        boardStartsAgain();
        Close(card, runId, written, RunOutcome.Interrupted, "The board lost its power during the run.");
    }

    private RunId Open(Card card, SlotState slot, NightPlan plan, int night)
    {
        var chance = new Chance(Tarrow.Seed, string.Create(CultureInfo.InvariantCulture, $"run {_runs++} of {board.HostName} for {card.Tag}"));
        var runId = new RunId(chance.Guid());
        bool folder = plan.Target == TargetKind.Folder;
        Write(new RunOpened
        {
            RunId = runId,
            Tag = card.Tag,
            Target = plan.Target,
            TargetPath = folder ? $"/media/{slot.DiskName}p1/assay" : $"/dev/{slot.DiskName}",
            TargetBytes = folder ? plan.Steps[0].RangeBytes : card.Silicon.CapacityBytes,
            DiskName = slot.DiskName,
            DiskSequence = slot.DiskSequence,
            Attachment = Attachment.Slot,
            FileSystem = folder ? "ext4" : null,
            MountOptions = folder ? "rw,noatime" : null,
            PlanName = plan.Name,
            PlanVersion = plan.Version,
            PlanText = plan.Text(card.Repetitions),
            Seed = chance.Bits(),
            PlannedWriteBytes = plan.MostBytesWritten(PaceIn(slot, card), card.Repetitions),
            HostName = board.HostName,
            BoardModel = Board.Model,
            KernelRelease = "6.12.43-arm64",
            BootId = clock.BootId,
            AgentVersion = "0.1.0",
            Invented = true,
        });
        clock.Advance(200_000_000);
        Write(new CardIdentified
        {
            RunId = runId,
            Identity = "sd-" + CardRegisters.Cid(card)[..30],
            IdentityFromRegisters = true,
            DiskName = slot.DiskName,
            DiskBytes = card.Silicon.CapacityBytes,
            Attachment = Attachment.Slot,
            Files = CardRegisters.Files(card),
        });
        clock.Advance(300_000_000);
        Write(new ConditionsSampled { RunId = runId, Conditions = slot.Sample(chance, warmth: 0) });
        return runId;
    }

    /// <summary>Returns the bytes written.</summary>
    private long Trials(Card card, SlotState slot, NightPlan plan, int night, int runOfCard, RunId runId, int stopAfter)
    {
        var maker = new TrialMaker(clock, slot, plan, runId);
        int index = 0;
        long written = 0;
        PlanStep first = plan.Steps[0];
        foreach (PlanStep step in plan.Steps)
        {
            string purpose = string.Create(CultureInfo.InvariantCulture, $"{card.Tag} night {night} run {runOfCard} {step.Kind}");
            var chance = new Chance(Tarrow.Seed, purpose);
            double rate = RunRate(card, slot, step, night, runOfCard, chance);
            double[] noise = chance.Spread(card.Repetitions);
            One(step, 0, TrialRole.WarmUp, rate * 0.955, chance);
            for (int i = 0; i < noise.Length; i++)
            {
                One(step, i + 1, TrialRole.Measured, rate * (1 + (step.Deviation * Steadiness(card) * noise[i])), chance);
            }

            if (step == plan.Steps[^1] && plan.Steps.Count > 1)
            {
                string closing = string.Create(CultureInfo.InvariantCulture, $"{card.Tag} night {night} run {runOfCard} {first.Kind}");
                double again = RunRate(card, slot, first, night, runOfCard, new Chance(Tarrow.Seed, closing));
                One(first, 1, TrialRole.Closing, again * (1 + (0.004 * chance.TameBell())), chance);
            }
        }

        return written;

        void One(PlanStep step, int repetition, TrialRole role, double rate, Chance chance)
        {
            if (index >= stopAfter)
            {
                return;
            }

            clock.Advance(RestNs);
            bool bad = card.Tag == Story.UnderVoltageTag && night == Story.UnderVoltageNight && index == Story.UnderVoltageIndex
                && plan.Target == TargetKind.Device;
            TrialMeasured trial = maker.Make(
                step, index, Math.Max(1, repetition), role, bad ? rate * 0.81 : rate, StallsOf(card, step, night, runOfCard), bad, chance);
            index++;
            written += step.Writes ? trial.Bytes : 0;
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

    private double RunRate(Card card, SlotState slot, PlanStep step, int night, int runOfCard, Chance chance)
    {
        double rate = step.OperationsPerSecond(PaceIn(slot, card)) * board.Pull;
        rate *= 1 + (0.010 * new Chance(Tarrow.Seed, $"specimen {card.Tag} {step.Kind}").TameBell());
        double runNoise = 0.004 * chance.TameBell();
        return card.Fault == Fault.Worn ? rate * Story.Wear(step, night, card.DeviceRuns, runOfCard) : rate * (1 + runNoise);
    }

    private static Pace PaceIn(SlotState slot, Card card) => slot.HighSpeedOnly ? card.Silicon.Pace.OnHighSpeedBus() : card.Silicon.Pace;

    // A card somebody vouches for was chosen for being steady.
    private static double Steadiness(Card card) => card.IsReference ? 0.7 : 1;

    private static int StallsOf(Card card, PlanStep step, int night, int runOfCard) =>
        card.Fault == Fault.Worn && step.Writes ? 1 + (night * card.DeviceRuns) + runOfCard : 0;

    private void Write(Observation observation) => journal.Add(new Stamped(clock.Now, observation));
}
