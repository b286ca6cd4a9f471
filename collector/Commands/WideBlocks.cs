using System.Buffers;
using Microsoft.AspNetCore.Connections;

namespace Cardassay.Collector.Commands;

/// <summary>
/// The memory that what boards send is received into, in blocks as long as two frames of HTTP/2. The server's own are of 4 KiB, so that a
/// message full of records took eighteen calls to receive and eighteen pieces to read.
/// </summary>
internal sealed class WideBlocks : MemoryPool<byte>, IMemoryPoolFactory<byte>
{
    /// <inheritdoc/>
    public override int MaxBufferSize => 32 * 1024;

    /// <inheritdoc/>
    public override IMemoryOwner<byte> Rent(int minBufferSize = -1) => Shared.Rent(Math.Max(minBufferSize, MaxBufferSize));

    /// <inheritdoc/>
    public MemoryPool<byte> Create(MemoryPoolOptions? options = null) => this;

    /// <inheritdoc/>
    protected override void Dispose(bool disposing)
    {
        // Blocks are of the process's own pool, which outlives every server.
    }
}
