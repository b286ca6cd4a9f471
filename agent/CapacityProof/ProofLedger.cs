using System.Numerics;
using Cardassay.Agent.BlockIo;
using Cardassay.Trials;

namespace Cardassay.Agent.CapacityProof;

/// <summary>Adds up what became of the blocks. Its size does not depend on the card's.</summary>
internal sealed class ProofLedger
{
    /// <summary>Lost blocks kept as examples.</summary>
    public const int ExamplesAtMost = 64;

    private readonly List<LostBlock> _examples = [];

    public BlockCounts Counts { get; private set; }

    public IReadOnlyList<LostBlock> Examples => _examples;

    /// <summary>Blocks not judged because their write was refused.</summary>
    public long Refused { get; private set; }

    /// <summary>Blocks not judged because the link erred.</summary>
    public long LinkSuspects { get; private set; }

    /// <summary>Blocks not judged because the device was away or the card out of its slot.</summary>
    public long Away { get; private set; }

    /// <summary>Greatest common divisor of all distances of wrapped blocks, in sectors; 0 without any.</summary>
    public long AliasStepSectors { get; private set; }

    /// <summary>Notes a block.</summary>
    public void Add(long offsetBytes, JudgedBlock judged)
    {
        Counts = Counts.Plus(judged.State);
        if (judged.State == BlockState.NotJudged)
        {
            (Refused, LinkSuspects, Away) = (NotJudgedReason)judged.FoundValue switch
            {
                NotJudgedReason.Refused => (Refused + 1, LinkSuspects, Away),
                NotJudgedReason.LinkErred => (Refused, LinkSuspects + 1, Away),
                _ => (Refused, LinkSuspects, Away + 1),
            };
        }

        if (!judged.IsLost)
        {
            return;
        }

        if (_examples.Count < ExamplesAtMost)
        {
            _examples.Add(judged.ToLostBlock(offsetBytes));
        }

        AddDistance(offsetBytes, judged);
    }

    /// <summary>Notes only how far the content of a wrapped block is from home.</summary>
    public void AddDistance(long offsetBytes, JudgedBlock judged)
    {
        if (judged is { State: BlockState.Wrapped, FoundSector: >= 0 })
        {
            AliasStepSectors = (long)BigInteger.GreatestCommonDivisor(AliasStepSectors,
                (offsetBytes / SectorTag.SectorBytes) - judged.FoundSector);
        }
    }

    /// <summary>Notes kept blocks; a negative number takes some back.</summary>
    public void AddKept(long blocks) => Counts = Counts.Plus(BlockState.Kept, blocks);

    /// <summary>Takes over what an interrupted proof had.</summary>
    public void Restore(ProofMeasured proof)
    {
        Counts = proof.Counts;
        _examples.AddRange(proof.LostBlocks);
        AliasStepSectors = proof.AliasStepBytes / SectorTag.SectorBytes;
    }
}
