namespace Cardassay.Plans;

/// <summary>What a run will take and write, said before it starts.</summary>
public sealed record PlanEstimate
{
    /// <summary>Rates assumed for filling and checking the ranges that are read; a slow card of class 10 (bytes per second).</summary>
    private const double AssumedWriteRate = 10e6;
    private const double AssumedReadRate = 20e6;

    /// <summary>Random 4 KiB transfers a second of a card of class A1 at its floor for writing.</summary>
    private const double AssumedOperationRate = 500;

    private const long ProofBlockBytes = 4096;

    /// <summary>A sparse proof pushes its probes out of a cache with so much in each round, and looks again at most so often when it finds something.</summary>
    private const long ProofEvictionBytes = 256L << 20;
    private const int ProofRounds = 7;
    private const long ProofProbesBesidesLattice = 512 + 299 + 2;

    /// <summary>Trials, counted up to the most repetitions.</summary>
    public required int TrialsAtMost { get; init; }

    /// <summary>Time with the fewest repetitions, seconds.</summary>
    public required double SecondsAtLeast { get; init; }

    /// <summary>Time with the most repetitions, seconds, not above the plan's limit.</summary>
    public required double SecondsAtMost { get; init; }

    /// <summary>Bytes written before the first trial so that what is read is known.</summary>
    public required long FillBytes { get; init; }

    /// <summary>Bytes written at the most, not above the plan's limit.</summary>
    public required long WriteBytesAtMost { get; init; }

    /// <summary>Estimates a plan on a target.</summary>
    /// <param name="plan">The plan.</param>
    /// <param name="targetBytes">Size of the target.</param>
    /// <param name="fillsEverything">True for a folder: every range is written once before the first trial, not only those that are read.</param>
    /// <exception cref="PlanException">A step does not fit on the target.</exception>
    public static PlanEstimate Of(Plan plan, long targetBytes, bool fillsEverything)
    {
        IReadOnlyList<ResolvedStep> steps = ResolvedStep.PlaceAll(plan, targetBytes);
        long once = FillRanges(plan, steps, fillsEverything).Sum(range => range.EndBytes - range.StartBytes);
        long fill = once * (1 + plan.PreconditionPasses);
        double fillSeconds = (fill / AssumedWriteRate) + (once / AssumedReadRate);
        double closing = steps.Count == 0 ? 0 : steps[0].Step.Seconds;
        (long Bytes, double Least, double Most) proof = Proof(plan.Proof, targetBytes);
        double Seconds(Func<Repetitions, int> count) =>
            fillSeconds + closing + steps.Sum(step => (plan.WarmUp + count(step.Repetitions)) * (step.Step.Seconds + plan.RestSeconds));
        long written = steps.Sum(step => (plan.WarmUp + step.Repetitions.Most) * step.WriteBytesAtMost);
        return new PlanEstimate
        {
            TrialsAtMost = steps.Count == 0 ? 0 : steps.Sum(step => plan.WarmUp + step.Repetitions.Most) + 1,
            SecondsAtLeast = proof.Least + Math.Min(plan.Limits.MaxSeconds, Seconds(repetitions => repetitions.Least)),
            SecondsAtMost = proof.Most + Math.Min(plan.Limits.MaxSeconds, Seconds(repetitions => repetitions.Most)),
            FillBytes = fill,
            WriteBytesAtMost = proof.Bytes + Math.Min(plan.Limits.MaxWriteBytes, fill + written + (steps.Count == 0 ? 0 : steps[0].WriteBytesAtMost)),
        };
    }

    /// <summary>What the proof adds; the limits of a plan bound its trials, a proof is whole or nothing.</summary>
    private static (long Bytes, double LeastSeconds, double MostSeconds) Proof(PlanProof proof, long targetBytes)
    {
        switch (proof)
        {
            case PlanProof.Full:
                double seconds = (targetBytes / AssumedWriteRate) + (targetBytes / AssumedReadRate);
                return (targetBytes + Math.Min(ProofEvictionBytes, targetBytes / 2), seconds / 10, seconds);
            case PlanProof.Sparse:
                double probes = (2 * Math.Sqrt(targetBytes / (double)ProofBlockBytes)) + ProofProbesBesidesLattice;
                long once = (long)(probes * ProofBlockBytes) + Math.Min(ProofEvictionBytes, targetBytes);
                double round = (2 * probes / AssumedOperationRate) + (once / AssumedWriteRate);
                return (ProofRounds * once, round / 10, ProofRounds * round);
            default:
                return (0, 0, 0);
        }
    }

    /// <summary>
    /// The ranges to be written before the first trial: those that are read, or all in a file, whose blocks have no place on the card
    /// before they are written; all too when the plan preconditions. Merged and ascending; none when the plan only reads, for then
    /// nothing may be written.
    /// </summary>
    public static IReadOnlyList<(long StartBytes, long EndBytes)> FillRanges(Plan plan, IReadOnlyList<ResolvedStep> steps, bool fillsEverything)
    {
        fillsEverything |= plan.PreconditionPasses > 0;
        var merged = new List<(long StartBytes, long EndBytes)>();
        if (!plan.Writes && !fillsEverything)
        {
            return merged;
        }

        foreach (ResolvedStep step in steps.Where(step => (fillsEverything || step.Step.Reads) && !step.Step.Extending).OrderBy(step => step.StartBytes))
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
