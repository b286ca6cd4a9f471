using System.Buffers.Binary;
using System.Numerics;

namespace Cardassay.Journal;

/// <summary>The Castagnoli check sum of RFC 3720 (appendix B.4 has vectors), by the processor's own instruction where it has one.</summary>
internal static class Crc32C
{
    public static uint Of(ReadOnlySpan<byte> bytes)
    {
        uint crc = uint.MaxValue;
        while (bytes.Length >= sizeof(ulong))
        {
            crc = BitOperations.Crc32C(crc, BinaryPrimitives.ReadUInt64LittleEndian(bytes));
            bytes = bytes[sizeof(ulong)..];
        }

        foreach (byte b in bytes)
        {
            crc = BitOperations.Crc32C(crc, b);
        }

        return ~crc;
    }
}
