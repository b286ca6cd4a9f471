using Cardassay.Agent.BlockIo;

namespace Cardassay.Agent.CapacityProof;

/// <summary>One buffer that goes round.</summary>
internal sealed class OverlapSlot(int bufferBytes)
{
    public AlignedBuffer Buffer { get; } = new(bufferBytes);

    public long OffsetBytes { get; set; }

    public int LengthBytes { get; set; }

    /// <summary>Error number of the reading that filled it; 0 without.</summary>
    public int Errno { get; set; }
}
