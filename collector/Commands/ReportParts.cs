using Google.Protobuf;
using Grpc.Core;

namespace Cardassay.Collector.Commands;

/// <summary>A stream whose bytes go to the caller as the parts of a report, as fast as the caller takes them.</summary>
internal sealed class ReportParts(IServerStreamWriter<V1.ReportPart> to) : Stream
{
    /// <summary>Most bytes of a part.</summary>
    private const int PartBytes = 256 * 1024;

    /// <inheritdoc/>
    public override bool CanRead => false;

    /// <inheritdoc/>
    public override bool CanSeek => false;

    /// <inheritdoc/>
    public override bool CanWrite => true;

    /// <inheritdoc/>
    public override long Length => throw new NotSupportedException();

    /// <inheritdoc/>
    public override long Position
    {
        get => throw new NotSupportedException();
        set => throw new NotSupportedException();
    }

    /// <inheritdoc/>
    public override async ValueTask WriteAsync(ReadOnlyMemory<byte> buffer, CancellationToken cancellationToken = default)
    {
        for (int at = 0; at < buffer.Length; at += PartBytes)
        {
            ReadOnlyMemory<byte> part = buffer.Slice(at, Math.Min(PartBytes, buffer.Length - at));
            await to.WriteAsync(new V1.ReportPart { Utf8 = ByteString.CopyFrom(part.Span) }, cancellationToken);
        }
    }

    /// <inheritdoc/>
    public override Task WriteAsync(byte[] buffer, int offset, int count, CancellationToken cancellationToken) =>
        WriteAsync(buffer.AsMemory(offset, count), cancellationToken).AsTask();

    /// <inheritdoc/>
    public override Task FlushAsync(CancellationToken cancellationToken) => Task.CompletedTask;

    /// <inheritdoc/>
    public override void Flush()
    {
    }

    /// <inheritdoc/>
    public override void Write(byte[] buffer, int offset, int count) => throw new NotSupportedException("A part is sent without keeping a thread waiting.");

    /// <inheritdoc/>
    public override int Read(byte[] buffer, int offset, int count) => throw new NotSupportedException();

    /// <inheritdoc/>
    public override long Seek(long offset, SeekOrigin origin) => throw new NotSupportedException();

    /// <inheritdoc/>
    public override void SetLength(long value) => throw new NotSupportedException();
}
