using Cardassay.Trials;

namespace Cardassay.Plans;

/// <summary>What a run will take and write, said before it starts.</summary>
public sealed record PlanEstimate
{
    /// <summary>Rates assumed for filling and checking the ranges that are read; a slow card of class 10 (bytes per second).</summary>
    private const double AssumedWriteRate = 10e6;
    private const double AssumedReadRate = 20e6;

    /// <summary>No card in a slot moves bytes faster: SDR104 at 4 bits (SD Association, bus speed modes).</summary>
    private const double BestRate = 104e6;

    /// <summary>Random 4 KiB transfers a second of a card of class A1 at its floor for writing.</summary>
    private const double AssumedOperationRate = 500;

    private const long BlockBytes = 4096;

    /// <summary>
    /// A sparse proof pushes its probes out of a cache with so much in each round, and looks again at most so
    /// often when it finds something.
    /// </summary>
    private const long ProofEvictionBytes = 256L << 20;
    private const int ProofRounds = 9;
    private const long ProofProbesBesidesLattice = 512 + 299 + 2;

    /// <summary>Random probes of one of these looks, where losses lie scattered.</summary>
    private const long ProofFurtherProbes = 4096;

    /// <summary>Trials, counted up to the most repetitions.</summary>
    public required int TrialsAtMost { get; init; }

    /// <summary>Time with the fewest repetitions, seconds.</summary>
    public required double SecondsAtLeast { get; init; }

    /// <summary>Time with the most repetitions, seconds, not above the plan's limit.</summary>
    public required double SecondsAtMost { get; init; }

    /// <summary>Of that time what a capacity proof takes, seconds; 0 without one.</summary>
    public required double ProofSecondsAtMost { get; init; }

    /// <summary>Bytes written before the first trial so that what is read is known.</summary>
    public required long FillBytes { get; init; }

    /// <summary>Bytes written at the most, not above the plan's limit.</summary>
    public required long WriteBytesAtMost { get; init; }

    /// <summary>Estimates a plan on a target.</summary>
    /// <param name="plan">The plan.</param>
    /// <param name="targetBytes">Size of the target.</param>
    /// <param name="fillsEverything">True for a folder: every range is written once before the first trial, not
    /// only those that are read.</param>
    /// <exception cref="PlanException">A step does not fit on the target.</exception>
    public static PlanEstimate Of(Plan plan, long targetBytes, bool fillsEverything)
    {
        IReadOnlyList<ResolvedStep> steps = ResolvedStep.PlaceAll(plan, targetBytes);
        IReadOnlyList<(long StartBytes, long EndBytes)> ranges = FillRanges(plan, steps, fillsEverything);
        long once = ranges.Sum(range => range.EndBytes - range.StartBytes);
        (long Bytes, double Least, double Most) cliff = Cliff(plan.Cliff, targetBytes);
        long fill = plan.PreconditionPasses > 0
            ? once * (1 + plan.PreconditionPasses)
            : once - KnownOfCliff(cliff.Bytes, ranges, targetBytes);
        double fillSeconds = (fill / AssumedWriteRate) + (once / AssumedReadRate);
        double closing = steps.Count == 0 ? 0 : steps[0].Step.Seconds;
        (long Bytes, double Least, double Most) proof = Proof(plan.Proof, targetBytes);

        // A full proof that finds every block right is the filling; one that does not leaves it to be done, if the budget has room for it.
        bool isFilledByProof = plan.Proof.Kind == PlanProofKind.Full && plan.PreconditionPasses == 0;
        double fillLeast = isFilledByProof ? 0 : fillSeconds;
        double fillMost = isFilledByProof && proof.Bytes + cliff.Bytes + fill > plan.Limits.BudgetBytes(targetBytes) ? 0 : fillSeconds;
        double Seconds(Func<Repetitions, int> count) =>
            closing + steps.Sum(step => (plan.WarmUp + count(step.Repetitions)) * (step.Step.Seconds + plan.RestSeconds));
        double overwriteSeconds = 2 * OverwriteBytesAtMost(plan, steps) / BlockBytes / AssumedOperationRate;
        double steadyLeast = steps.Sum(step => Math.Min(step.Step.UntilSteady, Trials.SteadyState.WindowRounds) * step.Step.Seconds);
        double steadyMost = steps.Sum(step => step.Step.UntilSteady * step.Step.Seconds);
        long written = cliff.Bytes + fill + OverwriteBytesAtMost(plan, steps)
            + steps.Sum(step => (step.Step.UntilSteady + plan.WarmUp + step.Repetitions.Most) * step.WriteBytesAtMost)
            + (steps.Count == 0 ? 0 : steps[0].WriteBytesAtMost);
        return new PlanEstimate
        {
            TrialsAtMost = (cliff.Bytes == 0 ? 0 : 2)
                + (steps.Count == 0
                    ? 0
                    : steps.Sum(step => step.Step.UntilSteady + (step.TrialsEach * (plan.WarmUp + step.Repetitions.Most)))
                        + steps[0].TrialsEach),
            SecondsAtLeast = proof.Least
                + Math.Min(plan.Limits.MaxSeconds, cliff.Least + fillLeast + steadyLeast + Seconds(repetitions => repetitions.Least)),
            SecondsAtMost = proof.Most
                + Math.Min(plan.Limits.MaxSeconds,
                    cliff.Most + fillMost + steadyMost + overwriteSeconds + Seconds(repetitions => repetitions.Most)),
            ProofSecondsAtMost = proof.Most,
            FillBytes = fill,
            WriteBytesAtMost = Math.Min(fillsEverything ? long.MaxValue : plan.Limits.BudgetBytes(targetBytes),
                proof.Bytes + Math.Min(plan.Limits.MaxWriteBytes, written)),
        };
    }

    /// <summary>
    /// True when the plan's proof, together with the long write before it, keeps within the plan's budget on a device of the given size.
    /// One that does not is left out: it is whole or nothing.
    /// </summary>
    public static bool ProofFits(Plan plan, long deviceBytes) =>
        Of(plan with { Steps = [], Limits = new PlanLimits() }, deviceBytes,
            fillsEverything: false).WriteBytesAtMost <= plan.Limits.BudgetBytes(deviceBytes);

    /// <summary>Bytes that the small overwrites before random reads write at the most.</summary>
    public static long OverwriteBytesAtMost(Plan plan, IReadOnlyList<ResolvedStep> steps) =>
        steps.Sum(step => (plan.WarmUp + step.Repetitions.Most) * step.OverwriteBytes) + (steps.Count == 0 ? 0 : steps[0].OverwriteBytes);

    /// <summary>What the long write at the start adds, its rest included.</summary>
    private static (long Bytes, double LeastSeconds, double MostSeconds) Cliff(PlanCliff? cliff, long targetBytes)
    {
        if (cliff is null)
        {
            return (0, 0, 0);
        }

        (long write, long recovery) = cliff.On(targetBytes, TrialKinds.DefaultBlockBytes(Trials.TrialKind.Cliff));
        double rest = recovery == 0 ? 0 : cliff.RestSeconds;
        double At(double rate) => Math.Min(cliff.Seconds, write / rate) + Math.Min(cliff.Seconds, recovery / rate) + rest;
        return (write + recovery, At(BestRate), At(AssumedWriteRate));
    }

    /// <summary>
    /// Bytes that the long write wrote already and the filling need not: only where the whole target is filled, for
    /// its place is not known before.
    /// </summary>
    private static long KnownOfCliff(long cliffBytes, IReadOnlyList<(long StartBytes, long EndBytes)> ranges, long targetBytes) =>
        ranges is [(0, var end)] && end > targetBytes - PlanCliff.PlaceBytes
            ? Math.Max(0, (cliffBytes / PlanCliff.PlaceBytes) - 1) * PlanCliff.PlaceBytes
            : 0;

    /// <summary>What the proof adds; the limits of a plan bound its trials, a proof is whole or nothing.</summary>
    private static (long Bytes, double LeastSeconds, double MostSeconds) Proof(PlanProof proof, long targetBytes)
    {
        switch (proof.Kind)
        {
            case PlanProofKind.Full:
                double seconds = (targetBytes / AssumedWriteRate) + (targetBytes / AssumedReadRate);
                return (targetBytes + Math.Min(ProofEvictionBytes, targetBytes / 2), seconds / 10, seconds);
            case PlanProofKind.Sparse:
                double probes = (2 * Math.Sqrt(targetBytes / (double)BlockBytes)) + ProofProbesBesidesLattice;
                long once = (long)(probes * BlockBytes) + Math.Min(ProofEvictionBytes, targetBytes);
                double round = (2 * probes / AssumedOperationRate) + (once / AssumedWriteRate);
                long looksBytes = ((ProofRounds - 1) * once) + (ProofFurtherProbes * BlockBytes);
                double looks = ((ProofRounds - 1) * round) + (2 * ProofFurtherProbes / AssumedOperationRate);
                return proof.Minutes is { } minutes
                    ? (targetBytes + looksBytes, Math.Max(round / 10,
                        Math.Min(60 * minutes, 2 * targetBytes / BestRate)), Math.Max(60 * minutes, round) + looks)
                    : (once + looksBytes, round / 10, round + looks);
            default:
                return (0, 0, 0);
        }
    }

    /// <summary>
    /// The ranges to be written before the first trial: those that are read, or all in a file, whose blocks have no place on the card
    /// before they are written; all too when the plan preconditions. Merged and ascending; none when the plan only reads, for then
    /// nothing may be written.
    /// </summary>
    public static IReadOnlyList<(long StartBytes, long EndBytes)> FillRanges(
        Plan plan, IReadOnlyList<ResolvedStep> steps, bool fillsEverything)
    {
        fillsEverything |= plan.PreconditionPasses > 0;
        var merged = new List<(long StartBytes, long EndBytes)>();
        if (!plan.Writes && !fillsEverything)
        {
            return merged;
        }

        foreach (ResolvedStep step in steps.Where(step => (fillsEverything || step.Step.Reads) && !step.Step.Extending)
            .OrderBy(step => step.StartBytes))
        {
            long end = step.StartBytes + step.LengthBytes;
            if (merged.Count > 0 && step.StartBytes <= merged[^1].EndBytes)
            {
                merged[^1] = (merged[^1].StartBytes, Math.Max(merged[^1].EndBytes, end));
            }
            else
            {
                merged.Add((step.StartBytes, end));
            }
        }

        return merged;
    }
}
