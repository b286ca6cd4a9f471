using Cardassay.Agent.BlockIo;
using Cardassay.Trials;

namespace Cardassay.Benchmarks.CapacityProof;

/// <summary>
/// A card of any size that takes no memory: it remembers the pass of the last write alone, and makes up what a block then holds. With a
/// loss, every n-th block reads as zeros.
/// </summary>
internal sealed unsafe class BoundlessTarget(long sizeBytes, long lostEvery) : IBlockTarget
{
    private const int NonceOffset = 16; // word 2 of a tag

    private ulong _nonce;

    public TargetKind Kind => TargetKind.Device;

    public string Path => "boundless";

    public long SizeBytes => sizeBytes;

    public int LogicalBlockBytes => 512;

    public bool CanWrite => true;

    public bool IsFile => false;

    public int Read(long offsetBytes, nint buffer, int lengthBytes)
    {
        for (int at = 0; at < lengthBytes; at += SectorTag.BlockBytes)
        {
            long offset = offsetBytes + at;
            if (lostEvery > 0 && offset / SectorTag.BlockBytes % lostEvery == 0)
            {
                new Span<byte>((byte*)buffer + at, SectorTag.BlockBytes).Clear();
            }
            else
            {
                SectorTag.Write((byte*)buffer + at, offset, _nonce);
            }
        }

        return 0;
    }

    public int Write(long offsetBytes, nint buffer, int lengthBytes)
    {
        _nonce = *(ulong*)(buffer + NonceOffset);
        return 0;
    }

    public int Flush() => 0;

    public int DropExtension() => 0;

    public void Abandon()
    {
    }

    public bool IsGone() => false;

    public void Dispose()
    {
    }
}
