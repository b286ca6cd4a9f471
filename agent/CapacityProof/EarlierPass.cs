using Cardassay.Agent.BlockIo;
using Cardassay.Agent.Trials;
using Cardassay.Trials;

namespace Cardassay.Agent.CapacityProof;

/// <summary>Asks a card what it holds of an interrupted proof, before that is taken up again.</summary>
internal static unsafe class EarlierPass
{
    private const int Samples = 64;

    /// <summary>
    /// True when every one of some random blocks that were written holds what this pass wrote: to it, or, on a card whose addresses go
    /// round, to another address. Nobody else writes blocks of this pass.
    /// </summary>
    public static bool IsStillThere(IBlockTarget target, ProofMeasured earlier)
    {
        long blocks = earlier.WrittenThroughBytes / SectorTag.BlockBytes;
        using var buffer = new AlignedBuffer(SectorTag.BlockBytes);
        using var judge = new BlockJudge();
        var random = new SeededSequence(earlier.Nonce);
        for (int i = 0; i < Samples && blocks > 0; i++)
        {
            long offset = random.Below(blocks) * SectorTag.BlockBytes;
            if (target.Read(offset, buffer.Address, SectorTag.BlockBytes) != 0
                || judge.Judge((byte*)buffer.Address, offset, earlier.Nonce).State is not (BlockState.Kept or BlockState.Wrapped))
            {
                return false;
            }
        }

        return true;
    }

    /// <summary>Blocks the proof itself wrote after its last flush, by their tags, one after the other.</summary>
    /// <param name="target">The card.</param>
    /// <param name="earlier">The proof.</param>
    /// <param name="mostBytes">Where to stop looking, counted from the last flush.</param>
    public static long BlocksAfterLastFlush(IBlockTarget target, ProofMeasured earlier, long mostBytes)
    {
        const int TransferBytes = 1 << 20;
        using var buffer = new AlignedBuffer(TransferBytes);
        long found = 0;
        long end = Math.Min(earlier.CoveredBytes, earlier.WrittenThroughBytes + mostBytes);
        for (long at = earlier.WrittenThroughBytes; at < end; at += TransferBytes)
        {
            int length = (int)Math.Min(TransferBytes, end - at);
            if (target.Read(at, buffer.Address, length) != 0)
            {
                return found;
            }

            for (int i = 0; i < length; i += SectorTag.BlockBytes)
            {
                if (!SectorTag.Matches((byte*)buffer.Address + i, at + i, earlier.Nonce))
                {
                    return found;
                }

                found++;
            }
        }

        return found;
    }
}
