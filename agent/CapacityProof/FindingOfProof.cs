using Cardassay.Trials;

namespace Cardassay.Agent.CapacityProof;

/// <summary>
/// Names what was found by the outcomes of the blocks. The names describe; what they mean for the card is judged elsewhere.
/// </summary>
internal static class FindingOfProof
{
    /// <summary>Outcomes that make up less than this part of the lost blocks do not make a finding mixed.</summary>
    private const double MinorPart = 0.01;

    /// <param name="counts">Blocks by outcome.</param>
    /// <param name="isInStretches">True when the lost blocks lie in few, whole stretches.</param>
    /// <param name="periodBytes">Confirmed period of a card that takes addresses modulo it; else null.</param>
    public static ProofFinding Of(BlockCounts counts, bool isInStretches, long? periodBytes)
    {
        if (periodBytes is { } period && period % ProofMeasured.BlockBytes != 0)
        {
            // Where blocks land across block boundaries, some end up as pieces of two others in which no tag is whole.
            counts = counts with { Wrapped = counts.Wrapped + counts.Dropped, Dropped = 0 };
        }

        long lost = counts.Lost;
        if (lost == 0)
        {
            return counts.NotJudged == 0 ? ProofFinding.NoneFound : ProofFinding.Unknown;
        }

        (long Blocks, ProofFinding Finding)[] parts =
        [
            (counts.Wrapped, ProofFinding.Wrap),
            (counts.Dropped + counts.Constant, isInStretches ? ProofFinding.Drop : ProofFinding.Scattered),
            (counts.Decayed, ProofFinding.Scattered),
            (counts.Unreadable, ProofFinding.Unreadable),
        ];
        ProofFinding[] major = [.. parts.Where(p => p.Blocks > MinorPart * lost).Select(p => p.Finding).Distinct()];
        return major.Length == 1 ? major[0] : ProofFinding.Mixed;
    }
}
