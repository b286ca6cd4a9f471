using Cardassay.Trials;

namespace Cardassay.Identity;

/// <summary>
/// Which of the four words a capacity proof has earned. "Overstated" needs a loss that no outage, link error or single fault explains:
/// a confirmed period of the addresses, or addresses that are lost up to the end, or at least one per cent of the claim, and every lost
/// block read again after a pause.
/// </summary>
/// <param name="Word">The word.</param>
/// <param name="LostFractionAtLeast">Lower bound (95 %) of the lost part of the claim, 0 to 1: counted where every block was read,
/// else by the random probes.</param>
/// <param name="LostFractionAtMost">Upper bound (95 %) of the same, of a card that is not whole; 0 otherwise.</param>
/// <param name="TrueBytes">Bytes really kept; only of an overstated card whose addresses go round or are lost in one stretch.</param>
/// <param name="KeepsAtLeastBytes">Bytes kept at the least, whatever the card does: what was read back right while all
/// of it was outstanding.</param>
/// <param name="IsWhole">True when every block of the range was read.</param>
public sealed record ProofJudgement(
    ProofWord Word, double LostFractionAtLeast, double LostFractionAtMost, long? TrueBytes, long KeepsAtLeastBytes, bool IsWhole)
{
    /// <summary>From this part of the claim on, scattered loss is no defect any more (common practice, no source).</summary>
    public const double OverstatedFraction = 0.01;

    /// <summary>
    /// A shorter loss at the very end may be a defect, or a reader that states a sector too many; nobody gains by claiming less than a
    /// mebibyte (common practice, no source).
    /// </summary>
    public const long EndStretchLeastBytes = 1 << 20;

    /// <summary>Judges one proof by its last record.</summary>
    public static ProofJudgement Of(ProofMeasured proof)
    {
        // Flipped bits are stored bits: they speak of a defect, not of a lack of room.
        long lost = proof.Counts.Lost - proof.Counts.Decayed;
        double counted = (double)lost * ProofMeasured.BlockBytes / Math.Max(1, proof.ClaimedBytes);
        double least = Math.Max(counted, proof.Kind == ProofKind.Sparse ? BinomialBound.Lower(proof.RandomLost, proof.RandomProbes) : 0);
        bool isPeriod = proof is { Finding: ProofFinding.Wrap, TrueBytes: { } bytes } && bytes == proof.AliasStepBytes;
        ProofWord word = WordOf(proof, isPeriod, least);
        bool isWhole = proof.Complete && (proof.Kind == ProofKind.Full
            || (proof.Kind == ProofKind.Sparse && (proof.BlocksRead + 1) * ProofMeasured.BlockBytes > proof.CoveredBytes));
        return new ProofJudgement(
            word,
            word >= ProofWord.Defective ? least : 0,
            word >= ProofWord.Defective
                ? (isWhole || proof.Kind != ProofKind.Sparse
                    ? counted
                    : Math.Max(counted, BinomialBound.Upper(proof.RandomLost, proof.RandomProbes)))
                : 0,
            word == ProofWord.Overstated ? proof.TrueBytes : null,
            proof.KeepsAtLeastBytes ?? (proof.Counts.Kept * ProofMeasured.BlockBytes),
            isWhole);
    }

    private static ProofWord WordOf(ProofMeasured proof, bool isPeriod, double least)
    {
        if (!proof.Complete)
        {
            return ProofWord.NotJudged;
        }

        if (proof.Counts.Lost == 0)
        {
            return proof.Counts.NotJudged == 0 && proof.Finding == ProofFinding.NoneFound
                ? ProofWord.NoOverstatementFound
                : ProofWord.NotJudged;
        }

        if (isPeriod)
        {
            return ProofWord.Overstated; // no outage makes addresses go round
        }

        if (proof.ReadAgainAfterNs is null)
        {
            return ProofWord.NotJudged; // of an earlier version, which read nothing again after a pause
        }

        bool isEndLost = proof.Kind != ProofKind.FreeSpace && proof.LostToEndFromBytes is { } from
            && proof.CoveredBytes - from >= EndStretchLeastBytes;
        return isEndLost || least >= OverstatedFraction ? ProofWord.Overstated : ProofWord.Defective;
    }
}
