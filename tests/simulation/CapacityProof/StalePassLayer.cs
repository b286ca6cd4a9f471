using Cardassay.Agent.BlockIo;
using Cardassay.Fixtures.Cards;

namespace Cardassay.Simulation.Tests.CapacityProof;

/// <summary>From some address on an earlier pass of a proof stays, whatever is written.</summary>
/// <param name="below">The card.</param>
/// <param name="fromBytes">The address, on a block.</param>
/// <param name="nonce">Nonce of the earlier pass.</param>
internal sealed unsafe class StalePassLayer(CardLayer below, long fromBytes, ulong nonce) : CardLayer(below)
{
    public override int Read(long offset, Span<byte> data)
    {
        if (offset < fromBytes)
        {
            return Below.Read(offset, data);
        }

        using var block = new AlignedBuffer(SectorTag.BlockBytes);
        SectorTag.Write((byte*)block.Address, offset, nonce);
        new ReadOnlySpan<byte>((void*)block.Address, data.Length).CopyTo(data);
        return 0;
    }

    public override int Write(long offset, ReadOnlySpan<byte> data) => offset < fromBytes ? Below.Write(offset, data) : 0;
}
