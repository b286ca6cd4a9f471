using System.Buffers;
using Google.Protobuf;

namespace Cardassay.Collector.Intake;

/// <summary>
/// What a board sends: a <see cref="V1.FromBoard"/> whose records stay as they came, in a borrowed buffer. The generated class would have an array
/// made for every message, which the garbage collector then copies about while the message waits for the disk.
/// </summary>
internal sealed class BoardMessage : IDisposable
{
    private byte[]? _borrowed;

    private BoardMessage(V1.FromBoard? other, ReadOnlyMemory<byte> records, byte[]? borrowed)
    {
        Other = other;
        Records = records;
        _borrowed = borrowed;
    }

    /// <summary>The message when it has no records, otherwise null.</summary>
    internal V1.FromBoard? Other { get; }

    /// <summary>An encoded <see cref="V1.Records"/>, until the message is disposed; empty when <see cref="Other"/> is something.</summary>
    internal ReadOnlyMemory<byte> Records { get; private set; }

    /// <summary>Reads an encoded <see cref="V1.FromBoard"/>.</summary>
    /// <exception cref="InvalidProtocolBufferException">It is none.</exception>
    internal static BoardMessage Read(ReadOnlySequence<byte> encoded)
    {
        int size = checked((int)encoded.Length);
        byte[] borrowed = ArrayPool<byte>.Shared.Rent(size);
        encoded.CopyTo(borrowed);
        if (HasRecordsAlone(borrowed.AsMemory(0, size), out ReadOnlyMemory<byte> records))
        {
            return new BoardMessage(null, records, borrowed);
        }

        try
        {
            V1.FromBoard whole = V1.FromBoard.Parser.ParseFrom(borrowed.AsSpan(0, size));
            return whole.KindCase == V1.FromBoard.KindOneofCase.Records
                ? new BoardMessage(null, whole.Records.Memory, null)
                : new BoardMessage(whole, default, null);
        }
        finally
        {
            ArrayPool<byte>.Shared.Return(borrowed);
        }
    }

    /// <summary>Gives the buffer back. A message that nobody disposes of only costs its buffer.</summary>
    public void Dispose()
    {
        Records = default;
        if (Interlocked.Exchange(ref _borrowed, null) is { } borrowed)
        {
            ArrayPool<byte>.Shared.Return(borrowed);
        }
    }

    /// <summary>Whether a message is made of records and nothing else, as the agent sends it; any other, sound or not, is for the library.</summary>
    private static bool HasRecordsAlone(ReadOnlyMemory<byte> message, out ReadOnlyMemory<byte> records)
    {
        records = default;
        try
        {
            var reader = new WireReader(message);
            if (!reader.IsAtEnd && reader.Tag() == WireFormat.MakeTag(V1.FromBoard.RecordsFieldNumber, WireFormat.WireType.LengthDelimited))
            {
                records = reader.Bytes();
                return reader.IsAtEnd;
            }
        }
        catch (BadRecordException)
        {
            // The library says what is wrong with it.
        }

        return false;
    }
}
