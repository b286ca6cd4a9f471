using System.Buffers;
using System.Collections.Concurrent;
using Microsoft.AspNetCore.Connections;

namespace Cardassay.Collector.Commands;

/// <summary>
/// The memory that what boards send is received into, in blocks as long as two frames of HTTP/2. The server's own are of 4 KiB, so that a
/// message full of records took eighteen calls to receive and eighteen pieces to read.
/// </summary>
internal sealed class WideBlocks : MemoryPool<byte>, IMemoryPoolFactory<byte>
{
    private const int BlockBytes = 32 << 10;

    /// <summary>What is free beyond that is let go: 16 MiB.</summary>
    private const int MostFree = 512;

    private readonly ConcurrentQueue<Block> _free = new();

    /// <inheritdoc/>
    public override int MaxBufferSize => BlockBytes;

    /// <inheritdoc/>
    public override IMemoryOwner<byte> Rent(int minBufferSize = -1)
    {
        ArgumentOutOfRangeException.ThrowIfGreaterThan(minBufferSize, BlockBytes);
        return _free.TryDequeue(out Block? block) ? block : new Block(this);
    }

    /// <inheritdoc/>
    public MemoryPool<byte> Create(MemoryPoolOptions? options = null) => this;

    /// <inheritdoc/>
    protected override void Dispose(bool disposing)
    {
        // Every caller of Create has this same pool.
    }

    private sealed class Block(WideBlocks pool) : IMemoryOwner<byte>
    {
        public Memory<byte> Memory { get; } = GC.AllocateUninitializedArray<byte>(BlockBytes);

        public void Dispose()
        {
            if (pool._free.Count < MostFree)
            {
                pool._free.Enqueue(this);
            }
        }
    }
}
