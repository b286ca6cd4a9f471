using System.Buffers.Binary;

namespace Cardassay.Journal;

/// <summary>How a record lies in a segment file, format version 1; FORMAT.md has the layout.</summary>
internal static class RecordFormat
{
    /// <summary>No record's payload is longer; a length field that says more is damage.</summary>
    public const int MaxPayloadBytes = (1 << 20) - (4 << 10);

    public const int HeadBytes = 64;

    /// <summary>What a record takes beyond its payload.</summary>
    public const int OverheadBytes = HeadBytes + sizeof(uint);

    /// <summary>Where the epoch lies, by which a reader finds the next record behind damage.</summary>
    public const int EpochOffset = 8;

    public static int SizeOf(int payloadBytes) => OverheadBytes + payloadBytes;

    /// <summary>Writes a whole record to the start of <paramref name="target"/> and returns its size.</summary>
    public static int Encode(Span<byte> target, in RecordHead head, ReadOnlySpan<byte> payload)
    {
        BinaryPrimitives.WriteInt32LittleEndian(target, payload.Length);
        BinaryPrimitives.WriteInt32LittleEndian(target[4..], head.SchemaVersion);
        head.Epoch.CopyTo(target[EpochOffset..24]);
        BinaryPrimitives.WriteInt64LittleEndian(target[24..], head.Sequence);
        BinaryPrimitives.WriteInt64LittleEndian(target[32..], head.Stamp.MonotonicNs);
        BinaryPrimitives.WriteInt64LittleEndian(target[40..], head.Stamp.WallUnixNs);
        head.Stamp.BootId.TryWriteBytes(target[48..HeadBytes], bigEndian: true, out _);
        payload.CopyTo(target[HeadBytes..]);
        int checkedBytes = HeadBytes + payload.Length;
        BinaryPrimitives.WriteUInt32LittleEndian(target[checkedBytes..], Crc32C.Of(target[..checkedBytes]));
        return checkedBytes + sizeof(uint);
    }

    /// <summary>Reads the fixed part. Nothing is known to be sound before <see cref="HasValidSum"/> said so.</summary>
    public static RecordHead DecodeHead(ReadOnlySpan<byte> bytes) => new(
        BinaryPrimitives.ReadInt32LittleEndian(bytes),
        BinaryPrimitives.ReadInt32LittleEndian(bytes[4..]),
        LogEpoch.FromBytes(bytes[EpochOffset..24]),
        BinaryPrimitives.ReadInt64LittleEndian(bytes[24..]),
        new LogStamp(
            BinaryPrimitives.ReadInt64LittleEndian(bytes[32..]),
            BinaryPrimitives.ReadInt64LittleEndian(bytes[40..]),
            new Guid(bytes[48..HeadBytes], bigEndian: true)));

    /// <summary>Whether the bytes, exactly one record long, carry their own check sum.</summary>
    public static bool HasValidSum(ReadOnlySpan<byte> record) =>
        Crc32C.Of(record[..^sizeof(uint)]) == BinaryPrimitives.ReadUInt32LittleEndian(record[^sizeof(uint)..]);
}

/// <summary>The fixed part of a record before its payload.</summary>
internal readonly record struct RecordHead(int PayloadBytes, int SchemaVersion, LogEpoch Epoch, long Sequence, LogStamp Stamp);
