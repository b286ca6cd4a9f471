using System.Numerics;
using Cardassay.Agent.BlockIo;
using Cardassay.Trials;

namespace Cardassay.Agent.CapacityProof;

/// <summary>
/// Says what became of a block by what it holds now. The whole content of a block follows from place and
/// pass, so every bit is compared.
/// </summary>
internal sealed unsafe class BlockJudge : IDisposable
{
    /// <summary>
    /// A sector of 512 bytes that differs from what was written in more bits was replaced as a whole: two unrelated ones differ in 2,048 of
    /// their 4,096 bits, give or take 32 (binomial), and one with a quarter of its bits decayed no card would give out.
    /// </summary>
    private const int DecayedBitsPerSector = 1024;

    private const int SectorsPerBlock = SectorTag.BlockBytes / SectorTag.SectorBytes;

    private readonly AlignedBuffer _expected = new(SectorTag.BlockBytes);

    /// <summary>Judges a block that was read without an error.</summary>
    public JudgedBlock Judge(byte* block, long offsetBytes, ulong nonce)
    {
        if (SectorTag.Matches(block, offsetBytes, nonce))
        {
            return JudgedBlock.Kept;
        }

        byte* expected = (byte*)_expected.Address;
        SectorTag.Write(expected, offsetBytes, nonce);
        int flipped = Difference(block, expected, out int first, out bool isReplaced);
        if (!isReplaced)
        {
            return new JudgedBlock(BlockState.Decayed, FlippedBits: flipped, FirstFlippedBit: first);
        }

        return new ReadOnlySpan<byte>(block, SectorTag.BlockBytes).IndexOfAnyExcept(block[0]) < 0
            ? new JudgedBlock(BlockState.Constant, FoundValue: block[0])
            : Named(block, offsetBytes, nonce);
    }

    public void Dispose() => _expected.Dispose();

    /// <summary>
    /// What another tag says of itself. It may stand in the middle of the block: every write covers whole blocks, so one that is
    /// aliased to an address inside this block begins there.
    /// </summary>
    private static JudgedBlock Named(byte* block, long offsetBytes, ulong nonce)
    {
        ulong older = 0;
        for (int sector = 0; sector < SectorsPerBlock; sector++)
        {
            if (!SectorTag.TryReadHeader(block + (sector * SectorTag.SectorBytes), out long lba, out ulong found))
            {
                continue;
            }

            long from = lba - sector;
            if (found != nonce)
            {
                older = found;
            }
            else if (from != offsetBytes / SectorTag.SectorBytes)
            {
                return new JudgedBlock(BlockState.Wrapped, from);
            }
        }

        return new JudgedBlock(BlockState.Dropped, FoundValue: older);
    }

    private static int Difference(byte* block, byte* expected, out int firstBit, out bool isReplaced)
    {
        const int WordsPerSector = SectorTag.SectorBytes / sizeof(ulong);
        ulong* a = (ulong*)block;
        ulong* b = (ulong*)expected;
        int bits = 0;
        firstBit = -1;
        isReplaced = false;
        for (int sector = 0; sector < SectorsPerBlock; sector++)
        {
            int before = bits;
            for (int i = sector * WordsPerSector; i < (sector + 1) * WordsPerSector; i++)
            {
                ulong difference = a[i] ^ b[i];
                if (difference != 0)
                {
                    firstBit = firstBit < 0 ? (i * 64) + BitOperations.TrailingZeroCount(difference) : firstBit;
                    bits += BitOperations.PopCount(difference);
                }
            }

            isReplaced |= bits - before > DecayedBitsPerSector;
        }

        return bits;
    }
}
