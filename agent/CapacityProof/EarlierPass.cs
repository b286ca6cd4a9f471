using Cardassay.Agent.BlockIo;
using Cardassay.Agent.Trials;
using Cardassay.Trials;

namespace Cardassay.Agent.CapacityProof;

/// <summary>
/// Asks a card whether it holds blocks of an interrupted proof. Without any it is another card of the same name, or it was written over:
/// going on would call it lossy for nothing.
/// </summary>
internal static unsafe class EarlierPass
{
    private const int Samples = 64;

    /// <summary>True when any of some random blocks that were written carries the tag of that pass, or nothing was written yet.</summary>
    public static bool IsStillThere(IBlockTarget target, ProofMeasured earlier)
    {
        long blocks = earlier.WrittenThroughBytes / SectorTag.BlockBytes;
        if (blocks == 0)
        {
            return true;
        }

        using var buffer = new AlignedBuffer(SectorTag.BlockBytes);
        var random = new SeededSequence(earlier.Nonce);
        for (int i = 0; i < Samples; i++)
        {
            if (target.Read(random.Below(blocks) * SectorTag.BlockBytes, buffer.Address, SectorTag.BlockBytes) == 0
                && SectorTag.TryReadHeader((byte*)buffer.Address, out _, out ulong nonce) && nonce == earlier.Nonce)
            {
                return true;
            }
        }

        return false;
    }
}
