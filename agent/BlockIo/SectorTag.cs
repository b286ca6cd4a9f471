using System.Numerics;
using System.Runtime.CompilerServices;
using System.Runtime.Intrinsics;

namespace Cardassay.Agent.BlockIo;

/// <summary>
/// The content of every 4,096-byte block this program writes: it says where it belongs and to which pass, and the rest cannot be
/// compressed. 512 little-endian 64-bit words:
/// <code>
/// 0        magic
/// 1        LBA: offset / 512, the first of the eight 512-byte sectors the block covers
/// 2        pass nonce, never 0
/// 3        fill key
/// 4        sum of words 6 to 511, see below
/// 5        CRC32C of words 0 to 4, its complement in the upper half
/// 6..509   fill: the outputs of SplitMix64 started at the key
/// 510,511  CRC32C of each third of the fill (168 words), the last one's complement in the upper half of 511
/// </code>
/// Three checksums side by side, because one CRC instruction waits for the one before: three chains keep a processor busy. The sum is
/// a weaker check that is four times as fast (running sums of running sums in four lanes, after Fletcher, IEEE Transactions on
/// Communications 1982): a trial compares it between two reads, where time counts; a proof and everything that names a cause uses the CRCs.
/// A trial fills a buffer once and afterwards only rewrites words 1, 2 and 5; a proof derives the key from nonce and LBA, so that the whole
/// content follows from the two.
/// </summary>
public static unsafe class SectorTag
{
    /// <summary>Bytes of one tagged block.</summary>
    public const int BlockBytes = 4096;

    /// <summary>Bytes of one sector, the unit of an LBA.</summary>
    public const int SectorBytes = 512;

    private const ulong Magic = 0x3147_4154_5952_4143; // "CARYTAG1" in ASCII
    private const int HeaderWords = 5;
    private const int HeaderCheck = 5;
    private const int FillStart = 6;
    private const int ThirdWords = 168;
    private const int FillCheck = FillStart + (3 * ThirdWords);
    private const ulong Golden = 0x9E37_79B9_7F4A_7C15;

    /// <summary>Writes a whole block whose fill follows from nonce and place.</summary>
    public static void Write(byte* block, long offsetBytes, ulong nonce)
    {
        Fill(block, KeyOf(offsetBytes, nonce));
        Stamp(block, offsetBytes, nonce);
    }

    /// <summary>The fill key of a block whose content follows from nonce and place.</summary>
    public static ulong KeyOf(long offsetBytes, ulong nonce) => Mix(nonce ^ Mix((ulong)offsetBytes / SectorBytes));

    /// <summary>Writes fill, key and fill checksums. The block is no tag before <see cref="Stamp"/>.</summary>
    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public static void Fill(byte* block, ulong key)
    {
        ulong* words = (ulong*)block;
        words[0] = Magic;
        words[3] = key;
        ulong state = key;
        for (int i = FillStart; i < FillCheck; i++)
        {
            state += Golden;
            words[i] = Finish(state);
        }

        (ulong first, ulong second) = FillChecks(words);
        words[FillCheck] = first;
        words[FillCheck + 1] = second;
        words[4] = Sum(words);
    }

    /// <summary>Says in a filled block where it goes and in which pass.</summary>
    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public static void Stamp(byte* block, long offsetBytes, ulong nonce)
    {
        ulong* words = (ulong*)block;
        words[1] = (ulong)offsetBytes / SectorBytes;
        words[2] = nonce;
        words[HeaderCheck] = HeaderChecksum(words);
    }

    /// <summary>True when the block is one that was written for this place in this pass: header by its CRC, the rest by its sum.</summary>
    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public static bool Matches(byte* block, long offsetBytes, ulong nonce)
    {
        ulong* words = (ulong*)block;
        return words[1] == (ulong)offsetBytes / SectorBytes && words[2] == nonce && HeaderIsGood(words) && words[4] == Sum(words);
    }

    /// <summary>
    /// Reads a tag's header alone, wherever in a block it stands: a card that wraps at an address inside a block shows it in the middle.
    /// </summary>
    /// <param name="sector">512 bytes.</param>
    /// <param name="lba">Where the block says it belongs.</param>
    /// <param name="nonce">The pass it says it was written in.</param>
    public static bool TryReadHeader(byte* sector, out long lba, out ulong nonce)
    {
        ulong* words = (ulong*)sector;
        bool isGood = HeaderIsGood(words);
        lba = isGood ? (long)words[1] : 0;
        nonce = isGood ? words[2] : 0;
        return isGood;
    }

    /// <summary>The finaliser of SplitMix64 after one step: a one-to-one mixing of 64 bits (Steele, Lea, Flood, OOPSLA 2014).</summary>
    public static ulong Mix(ulong value) => Finish(value + Golden);

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static ulong Finish(ulong z)
    {
        z = (z ^ (z >> 30)) * 0xBF58_476D_1CE4_E5B9;
        z = (z ^ (z >> 27)) * 0x94D0_49BB_1331_11EB;
        return z ^ (z >> 31);
    }

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static bool HeaderIsGood(ulong* words) =>
        words[0] == Magic && words[HeaderCheck] == HeaderChecksum(words);

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static ulong HeaderChecksum(ulong* words)
    {
        uint crc = uint.MaxValue;
        for (int i = 0; i < HeaderWords; i++)
        {
            crc = BitOperations.Crc32C(crc, words[i]);
        }

        return Doubled(~crc);
    }

    /// <summary>Lanes take every fourth word; the last two words and the lanes are then mixed into 64 bits.</summary>
    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    private static ulong Sum(ulong* words)
    {
        // Two halves of two lanes and not one vector of four: a program compiled ahead of time uses what every processor of its kind has.
        Vector128<ulong> sums = Vector128<ulong>.Zero;
        Vector128<ulong> sumsHigh = Vector128<ulong>.Zero;
        Vector128<ulong> sumsOfSums = Vector128<ulong>.Zero;
        Vector128<ulong> sumsOfSumsHigh = Vector128<ulong>.Zero;
        for (int i = FillStart; i < FillCheck; i += 2 * Vector128<ulong>.Count)
        {
            sums += Vector128.Load(words + i);
            sumsHigh += Vector128.Load(words + i + Vector128<ulong>.Count);
            sumsOfSums += sums;
            sumsOfSumsHigh += sumsHigh;
        }

        ulong mixed = Finish(words[FillCheck] + Golden) ^ (words[FillCheck + 1] * Golden);
        mixed = Finish(mixed + sums[0]) + sumsOfSums[0];
        mixed = Finish(mixed + sums[1]) + sumsOfSums[1];
        mixed = Finish(mixed + sumsHigh[0]) + sumsOfSumsHigh[0];
        mixed = Finish(mixed + sumsHigh[1]) + sumsOfSumsHigh[1];
        return mixed;
    }

    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    private static (ulong First, ulong Second) FillChecks(ulong* words)
    {
        uint a = uint.MaxValue;
        uint b = uint.MaxValue;
        uint c = uint.MaxValue;
        ulong* word = words + FillStart;
        ulong* end = word + ThirdWords;
        for (; word < end; word++)
        {
            a = BitOperations.Crc32C(a, word[0]);
            b = BitOperations.Crc32C(b, word[ThirdWords]);
            c = BitOperations.Crc32C(c, word[2 * ThirdWords]);
        }

        return (~a | ((ulong)~b << 32), Doubled(~c));
    }

    private static ulong Doubled(uint crc) => crc | ((ulong)~crc << 32);
}
