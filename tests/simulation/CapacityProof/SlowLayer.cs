using Cardassay.Fixtures.Cards;

namespace Cardassay.Simulation.Tests.CapacityProof;

/// <summary>Every block takes its time, the first write most.</summary>
internal sealed class SlowLayer(CardLayer below, SimulatedTime time, TimeSpan eachBlock, TimeSpan firstWrite) : CardLayer(below)
{
    private bool _isPrepared;

    public override int Read(long offset, Span<byte> data)
    {
        time.Advance(eachBlock);
        return Below.Read(offset, data);
    }

    public override int Write(long offset, ReadOnlySpan<byte> data)
    {
        time.Advance(_isPrepared ? eachBlock : eachBlock + firstWrite);
        _isPrepared = true;
        return Below.Write(offset, data);
    }
}
