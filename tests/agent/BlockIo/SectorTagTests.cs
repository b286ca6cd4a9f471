using System.Numerics;
using System.Text;
using Cardassay.Agent.BlockIo;

namespace Cardassay.Agent.Tests.BlockIo;

public sealed unsafe class SectorTagTests
{
    // Check value of CRC-32C (Castagnoli): RFC 3720 B.4 gives the polynomial, the catalogue of CRC algorithms the check "123456789" -> E3069283.
    // The bitwise routine below is the outside check of the processor's instruction.
    [Fact]
    public void BitwiseCrc_CheckText_IsTheCataloguesValue()
    {
        Assert.Equal(0xE3069283u, BitwiseCrc(Encoding.ASCII.GetBytes("123456789")));
        uint crc = uint.MaxValue;
        foreach (byte b in "123456789"u8)
        {
            crc = BitOperations.Crc32C(crc, b);
        }

        Assert.Equal(0xE3069283u, ~crc);
    }

    [Fact]
    public void Write_AnyBlock_CarriesTheDocumentedWordsAndChecksums()
    {
        using var buffer = new AlignedBuffer(SectorTag.BlockBytes);
        byte* block = (byte*)buffer.Address;
        SectorTag.Write(block, 4096 * 1234, 0xABCDEF);
        ulong* words = (ulong*)block;
        var bytes = new ReadOnlySpan<byte>(block, SectorTag.BlockBytes);
        Assert.Equal("CARYTAG1", Encoding.ASCII.GetString(bytes[..8]));
        Assert.Equal(4096UL * 1234 / 512, words[1]);
        Assert.Equal(0xABCDEFUL, words[2]);
        Assert.Equal(BitwiseCrc(bytes[..40]), (uint)words[5]);
        Assert.Equal(BitwiseCrc(bytes.Slice(48, 1344)), (uint)words[510]);
        Assert.Equal(BitwiseCrc(bytes.Slice(48 + 1344, 1344)), (uint)(words[510] >> 32));
        Assert.Equal(BitwiseCrc(bytes.Slice(48 + 2688, 1344)), (uint)words[511]);
        Assert.True(SectorTag.TryReadHeader(block, out long lba, out ulong nonce));
        Assert.Equal((4096 * 1234 / 512, 0xABCDEFUL), (lba, nonce));
    }

    // First outputs of SplitMix64 seeded with 1234567, as published with the reference code's ports (from memory).
    [Fact]
    public void Fill_SeedOfTheReference_IsSplitMix64()
    {
        using var buffer = new AlignedBuffer(SectorTag.BlockBytes);
        SectorTag.Fill((byte*)buffer.Address, 1234567);
        ulong* words = (ulong*)buffer.Address;
        Assert.Equal(6457827717110365317UL, words[6]);
        Assert.Equal(3203168211198807973UL, words[7]);
        Assert.Equal(9817491932198370423UL, words[8]);
    }

    [Fact]
    public void Matches_EveryBitFlippedInTurn_IsFalse()
    {
        using var buffer = new AlignedBuffer(SectorTag.BlockBytes);
        byte* block = (byte*)buffer.Address;
        SectorTag.Write(block, 8192, 7);
        Assert.True(SectorTag.Matches(block, 8192, 7));
        Assert.False(SectorTag.Matches(block, 4096, 7));
        Assert.False(SectorTag.Matches(block, 8192, 8));
        for (int bit = 0; bit < SectorTag.BlockBytes * 8; bit++)
        {
            block[bit / 8] ^= (byte)(1 << (bit % 8));
            Assert.False(SectorTag.Matches(block, 8192, 7), $"bit {bit}");
            block[bit / 8] ^= (byte)(1 << (bit % 8));
        }

        Assert.True(SectorTag.Matches(block, 8192, 7));
    }

    // The sum is weaker than a CRC, but errors of several bits and blocks put together from two must not pass it.
    [Fact]
    public void Matches_SeveralBitsOrHalfAnotherBlock_IsFalse()
    {
        using var buffer = new AlignedBuffer(2 * SectorTag.BlockBytes);
        byte* block = (byte*)buffer.Address;
        var random = new Random(1);
        for (int i = 0; i < 100_000; i++)
        {
            SectorTag.Stamp(block, 8192, 7);
            if (i == 0)
            {
                SectorTag.Write(block, 8192, 7);
            }

            int[] bits = [.. Enumerable.Range(0, 2 + (i % 3)).Select(_ => random.Next(48 * 8, SectorTag.BlockBytes * 8)).Distinct()];
            Array.ForEach(bits, bit => block[bit / 8] ^= (byte)(1 << (bit % 8)));
            Assert.False(SectorTag.Matches(block, 8192, 7), $"seed 1, turn {i}");
            Array.ForEach(bits, bit => block[bit / 8] ^= (byte)(1 << (bit % 8)));
        }

        Assert.True(SectorTag.Matches(block, 8192, 7));
        SectorTag.Write(block + SectorTag.BlockBytes, 4096, 7);
        for (int from = 512; from < SectorTag.BlockBytes; from += 512)
        {
            SectorTag.Write(block, 8192, 7);
            Buffer.MemoryCopy(block + SectorTag.BlockBytes + from, block + from, 512, 512);
            Assert.False(SectorTag.Matches(block, 8192, 7));
        }
    }

    // Incompressible: gzip, a general compressor, must not make it smaller.
    [Fact]
    public void Write_ManyBlocks_CannotBeCompressed()
    {
        using var buffer = new AlignedBuffer(1 << 20);
        for (int at = 0; at < buffer.LengthBytes; at += SectorTag.BlockBytes)
        {
            SectorTag.Write((byte*)buffer.Address + at, at, 99);
        }

        using var compressed = new MemoryStream();
        using (var gzip = new System.IO.Compression.GZipStream(compressed, System.IO.Compression.CompressionLevel.Optimal, leaveOpen: true))
        {
            gzip.Write(new ReadOnlySpan<byte>((byte*)buffer.Address, buffer.LengthBytes));
        }

        Assert.True(compressed.Length > buffer.LengthBytes * 0.985, $"{compressed.Length} of {buffer.LengthBytes}");
    }

    private static uint BitwiseCrc(ReadOnlySpan<byte> bytes)
    {
        uint crc = uint.MaxValue;
        foreach (byte b in bytes)
        {
            crc ^= b;
            for (int i = 0; i < 8; i++)
            {
                crc = (crc & 1) != 0 ? (crc >> 1) ^ 0x82F63B78 : crc >> 1;
            }
        }

        return ~crc;
    }
}
