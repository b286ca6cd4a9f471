using System.Numerics;
using System.Runtime.CompilerServices;
using Cardassay.Agent.BlockIo;

namespace Cardassay.Agent.Trials;

/// <summary>
/// Pseudo-random numbers from a seed: xoshiro256** (Blackman and Vigna, ACM TOMS 2021), state filled by SplitMix64 as its authors
/// advise. Written here and not taken from the runtime because a recorded seed must give the same offsets in every later version.
/// </summary>
internal sealed class SeededSequence
{
    private ulong _a;
    private ulong _b;
    private ulong _c;
    private ulong _d;

    public SeededSequence(ulong seed)
        : this(SectorTag.Mix(seed), SectorTag.Mix(seed + 0x9E37_79B9_7F4A_7C15), SectorTag.Mix(seed + 0x3C6E_F372_FE94_F82A),
            SectorTag.Mix(seed + 0xDAA6_6D2C_7DDF_743F))
    {
    }

    internal SeededSequence(ulong a, ulong b, ulong c, ulong d) => (_a, _b, _c, _d) = (a, b, c, d);

    /// <summary>The next 64 bits.</summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public ulong Next()
    {
        ulong result = BitOperations.RotateLeft(_b * 5, 7) * 9;
        ulong t = _b << 17;
        _c ^= _a;
        _d ^= _b;
        _b ^= _c;
        _a ^= _d;
        _c ^= t;
        _d = BitOperations.RotateLeft(_d, 45);
        return result;
    }

    /// <summary>
    /// A number from 0 below <paramref name="bound"/> by multiplication; the bias is below bound / 2^64, which is nothing for the
    /// number of blocks of a card.
    /// </summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public long Below(long bound) => (long)Math.BigMul(Next(), (ulong)bound, out _);
}
