namespace Cardassay.Collector.Tests.Report;

/// <summary>A stream as the socket and the page are: no thread may wait in it. It counts what is written and can fail.</summary>
internal sealed class CountedStream : MemoryStream
{
    private readonly MemoryStream _kept = new();

    /// <summary>Writes that succeed.</summary>
    internal int FailAfter { get; init; } = int.MaxValue;

    internal int Writes { get; private set; }

    internal int LargestWrite { get; private set; }

    public override byte[] ToArray() => _kept.ToArray();

    public override ValueTask WriteAsync(ReadOnlyMemory<byte> buffer, CancellationToken cancellationToken = default)
    {
        if (++Writes > FailAfter)
        {
            throw new IOException("gone");
        }

        LargestWrite = Math.Max(LargestWrite, buffer.Length);
        _kept.Write(buffer.Span);
        return ValueTask.CompletedTask;
    }

    public override Task WriteAsync(byte[] buffer, int offset, int count, CancellationToken cancellationToken) =>
        WriteAsync(buffer.AsMemory(offset, count), cancellationToken).AsTask();

    public override void Write(byte[] buffer, int offset, int count) => throw new NotSupportedException("A thread would wait.");

    public override void Write(ReadOnlySpan<byte> buffer) => throw new NotSupportedException("A thread would wait.");
}
