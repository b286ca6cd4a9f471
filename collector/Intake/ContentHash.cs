using System.Buffers.Binary;
using System.Security.Cryptography;

namespace Cardassay.Collector.Intake;

/// <summary>SHA-256 of a record's payload as a value.</summary>
internal readonly record struct ContentHash(UInt128 High, UInt128 Low)
{
    private const int Bytes = 32;

    internal static ContentHash Of(ReadOnlySpan<byte> payload)
    {
        Span<byte> hash = stackalloc byte[Bytes];
        SHA256.HashData(payload, hash);
        return FromBytes(hash);
    }

    /// <param name="hash">32 bytes.</param>
    internal static ContentHash FromBytes(ReadOnlySpan<byte> hash) =>
        new(BinaryPrimitives.ReadUInt128BigEndian(hash), BinaryPrimitives.ReadUInt128BigEndian(hash[(Bytes / 2)..]));

    internal byte[] ToBytes()
    {
        byte[] hash = new byte[Bytes];
        BinaryPrimitives.WriteUInt128BigEndian(hash, High);
        BinaryPrimitives.WriteUInt128BigEndian(hash.AsSpan(Bytes / 2), Low);
        return hash;
    }
}
