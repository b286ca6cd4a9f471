using Cardassay.Agent.BlockIo;
using Cardassay.Trials;

namespace Cardassay.Agent.CapacityProof;

/// <summary>What became of all blocks, noted in address order. Its size does not depend on the card's.</summary>
internal sealed class AddressTally
{
    /// <summary>Shorter lost stretches, on average, count as single blocks.</summary>
    private const int StretchBlocks = 16;

    private bool _wasLost;

    public ProofLedger Ledger { get; } = new();

    public RangeMap Map { get; } = new();

    public BlockCounts Counts => Ledger.Counts;

    /// <summary>Stretches of lost blocks.</summary>
    public long LostRuns { get; private set; }

    /// <summary>First byte from which on nothing was kept so far; null when the last block was kept, be it with flipped bits.</summary>
    public long? LostFromBytes { get; private set; }

    /// <summary>True when the lost blocks lie in few, whole stretches.</summary>
    public bool IsInStretches => LostFromBytes is not null || Counts.Lost >= StretchBlocks * LostRuns;

    /// <summary>True when all lost blocks lie in one stretch and all others are known to be kept.</summary>
    public bool IsOneStretch => LostRuns == 1 && Counts.NotJudged == 0;

    public void Note(long offsetBytes, JudgedBlock judged)
    {
        Ledger.Add(offsetBytes, judged);
        Map.Add(offsetBytes, offsetBytes + SectorTag.BlockBytes, judged.State);
        LostRuns += judged.IsLost && !_wasLost ? 1 : 0;
        _wasLost = judged.IsLost;
        LostFromBytes = judged.IsStored ? null : LostFromBytes ?? (judged.IsLost ? offsetBytes : null);
    }

    /// <summary>Notes a stretch of kept blocks.</summary>
    public void NoteKept(ProofRange range)
    {
        Ledger.AddKept((range.EndBytes - range.StartBytes) / SectorTag.BlockBytes);
        Map.Add(range.StartBytes, range.EndBytes, BlockState.Kept);
        (_wasLost, LostFromBytes) = (false, null);
    }

    /// <summary>Takes back everything from a place on, which had been kept to the end.</summary>
    public void TakeBackKept(long fromBytes, long endBytes)
    {
        Ledger.AddKept((fromBytes - endBytes) / SectorTag.BlockBytes);
        Map.CutFrom(fromBytes);
    }

    /// <summary>Takes over what an interrupted proof had.</summary>
    public void Restore(ProofMeasured proof)
    {
        Ledger.Restore(proof);
        Map.Restore(proof.Ranges, proof.RangeGrainBytes);
        LostRuns = proof.Ranges.Count(r => r.State is not (BlockState.Kept or BlockState.NotJudged));
        _wasLost = proof.Ranges is [.., { State: not (BlockState.Kept or BlockState.NotJudged) }];
        LostFromBytes = proof.LostToEndFromBytes;
    }
}
