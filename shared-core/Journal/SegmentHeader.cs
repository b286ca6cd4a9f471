using System.Buffers.Binary;

namespace Cardassay.Journal;

/// <summary>
/// The first bytes of a segment file; FORMAT.md has the layout. The previous epoch and sequence tell what must lie before this segment,
/// so that a file that is missing is missed.
/// </summary>
internal sealed record SegmentHeader(long Ordinal, LogEpoch Epoch, long First, LogEpoch PreviousEpoch, long PreviousLast)
{
    public const uint FormatVersion = 1;
    public const int Bytes = 76;

    // The magic, the version, the length and "the last four bytes are the check sum" hold for every version ever.
    private const int LengthOffset = 12;
    private const int MaxHeaderBytes = 4096;

    private static ReadOnlySpan<byte> Magic => "CardLog\n"u8;

    public void CopyTo(Span<byte> target)
    {
        Magic.CopyTo(target);
        BinaryPrimitives.WriteUInt32LittleEndian(target[8..], FormatVersion);
        BinaryPrimitives.WriteUInt32LittleEndian(target[LengthOffset..], Bytes);
        BinaryPrimitives.WriteInt64LittleEndian(target[16..], Ordinal);
        Epoch.CopyTo(target[24..40]);
        BinaryPrimitives.WriteInt64LittleEndian(target[40..], First);
        PreviousEpoch.CopyTo(target[48..64]);
        BinaryPrimitives.WriteInt64LittleEndian(target[64..], PreviousLast);
        BinaryPrimitives.WriteUInt32LittleEndian(target[72..], Crc32C.Of(target[..72]));
    }

    /// <summary>Reads a header; null when it is damaged or does not belong to a file of that name.</summary>
    /// <exception cref="LogFormatException">It is sound, but of a newer format.</exception>
    public static SegmentHeader? Read(ILogFile file, SegmentName name)
    {
        byte[] start = new byte[LengthOffset + sizeof(uint)];
        if (file.Read(0, start) < start.Length || !start.AsSpan().StartsWith(Magic))
        {
            return null;
        }

        uint length = BinaryPrimitives.ReadUInt32LittleEndian(start.AsSpan(LengthOffset));
        if (length < Bytes || length > MaxHeaderBytes)
        {
            return null;
        }

        byte[] bytes = new byte[length];
        if (file.Read(0, bytes) < bytes.Length
            || Crc32C.Of(bytes.AsSpan(0, bytes.Length - sizeof(uint))) != BinaryPrimitives.ReadUInt32LittleEndian(
                bytes.AsSpan(bytes.Length - sizeof(uint))))
        {
            return null;
        }

        uint version = BinaryPrimitives.ReadUInt32LittleEndian(bytes.AsSpan(8));
        if (version > FormatVersion)
        {
            throw new LogFormatException(name.ToString(), version);
        }

        SegmentHeader header = Decode(bytes);
        return length == Bytes && header.Ordinal == name.Ordinal && header.Epoch == name.Epoch && header.First == name.First
            ? header
            : null;
    }

    private static SegmentHeader Decode(ReadOnlySpan<byte> bytes) => new(
        BinaryPrimitives.ReadInt64LittleEndian(bytes[16..]),
        LogEpoch.FromBytes(bytes[24..40]),
        BinaryPrimitives.ReadInt64LittleEndian(bytes[40..]),
        LogEpoch.FromBytes(bytes[48..64]),
        BinaryPrimitives.ReadInt64LittleEndian(bytes[64..]));
}
