using Cardassay.Trials;

namespace Cardassay.Identity;

/// <summary>How much of the address range a capacity proof covered.</summary>
public enum CapacityProofKind
{
    /// <summary>There was none, or none that ended.</summary>
    None = 0,

    /// <summary>Probes spread over the range: certain for wrapping addresses, a bound for anything else.</summary>
    Sparse = 1,

    /// <summary>Every block written, then every block read back.</summary>
    Full = 2,
}

/// <summary>What the capacity proofs of a card come to. Made by whoever looks at the proofs.</summary>
public sealed record CapacityProofSummary
{
    /// <summary>The strongest proof that ended and found nothing.</summary>
    public CapacityProofKind Kind { get; init; }

    /// <summary>True when any proof showed that the card keeps less than it states.</summary>
    public bool OverstatementFound { get; init; }

    /// <summary>True when any proof found blocks that are persistently bad without showing an overstatement.</summary>
    public bool DefectFound { get; init; }

    /// <summary>True when the newest proof could not be judged and none found anything.</summary>
    public bool NotJudged { get; init; }

    /// <summary>How the loss looks; <see cref="ProofFinding.Unknown"/> without one.</summary>
    public ProofFinding Finding { get; init; }

    /// <summary>Bytes the card really stores, where the proof could tell; else null.</summary>
    public long? TrueBytes { get; init; }

    /// <summary>Lower bound (95 %) of the lost part, 0 to 1; 0 without a loss.</summary>
    public double LostFractionAtLeast { get; init; }

    /// <summary>Upper bound (95 %) of the same; 0 without a loss.</summary>
    public double LostFractionAtMost { get; init; }

    /// <summary>Bytes the card keeps at the least, whatever it does: the most any proof counted; 0 without a proof.</summary>
    public long KeepsAtLeastBytes { get; init; }

    /// <summary>Upper bound (95 %) of the lost fraction after a sparse proof without a find, 0 to 1; null when it has no meaning.</summary>
    public double? LostFractionBelow { get; init; }

    /// <summary>What <see cref="LostFractionBelow"/> assumes, as words that go on a sentence; null without it.</summary>
    public string? Assumption { get; init; }

    /// <summary>What a clean sparse proof shows, in words for beside a verdict; null without one.</summary>
    public string? Basis => LostFractionBelow is { } bound
        ? $"keeps at least {ProofText.Gigabytes(KeepsAtLeastBytes)} whatever it does; lost fraction < {ProofFindings.Percent(bound)} at 95 "
            + $"%, {Assumption}"
        : null;

    /// <summary>Sums up the proofs of one card.</summary>
    /// <param name="proofs">The last record of each proof, oldest first.</param>
    public static CapacityProofSummary Of(IReadOnlyList<ProofMeasured> proofs)
    {
        (ProofMeasured Proof, ProofJudgement Judgement)[] all = [.. proofs.Select(p => (p, ProofJudgement.Of(p)))];
        (ProofMeasured Proof, ProofJudgement Judgement)[] clean =
        [
            .. all.Where(p => p.Judgement.Word == ProofWord.NoOverstatementFound && p.Proof.Kind != ProofKind.FreeSpace),
        ];
        (ProofMeasured Proof, ProofJudgement Judgement)[] bad = [.. all.Where(p => p.Judgement.Word >= ProofWord.Defective)];
        (ProofMeasured? worst, ProofJudgement? judged) = bad.OrderBy(p => p.Judgement.Word).LastOrDefault();
        CapacityProofKind kind = clean.Any(p => p.Judgement.IsWhole) ? CapacityProofKind.Full
            : clean.Any(p => p.Proof.Kind == ProofKind.Sparse) ? CapacityProofKind.Sparse : CapacityProofKind.None;
        ProofMeasured? bounding = kind == CapacityProofKind.Sparse
            ? clean.Select(p => p.Proof).Where(p => p.LostFractionBelow is not null).OrderBy(p => p.LostFractionBelow)
                .ThenByDescending(p => p.EvictionBlocks).FirstOrDefault()
            : null;
        return new CapacityProofSummary
        {
            Kind = kind,
            OverstatementFound = judged?.Word == ProofWord.Overstated,
            DefectFound = bad.Any(p => p.Judgement.Word == ProofWord.Defective),
            NotJudged = bad.Length == 0 && all is [.., (_, { Word: ProofWord.NotJudged })],
            Finding = worst?.Finding ?? ProofFinding.Unknown,
            TrueBytes = bad.LastOrDefault(p => p.Judgement.TrueBytes is not null).Judgement?.TrueBytes,
            LostFractionAtLeast = judged?.LostFractionAtLeast ?? 0,
            LostFractionAtMost = judged?.LostFractionAtMost ?? 0,
            KeepsAtLeastBytes = all.Select(p => p.Judgement.KeepsAtLeastBytes).DefaultIfEmpty().Max(),
            LostFractionBelow = bounding?.LostFractionBelow,
            Assumption = bounding is null ? null : ProofFindings.Assumption(bounding),
        };
    }
}
