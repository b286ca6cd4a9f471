using Cardassay.Agent.BlockIo;

namespace Cardassay.Agent.Trials;

/// <summary>
/// Derives the seed of a part from the seed of the whole, so that one recorded number repeats a whole run: run seed -> seed of
/// trial i -> seed of slot j, and the pass nonce of the trial's data.
/// </summary>
internal static class SplitSeed
{
    private const ulong NonceBranch = 0x6E6F_6E63_6500_0001;

    /// <summary>The seed of part <paramref name="index"/>.</summary>
    public static ulong Of(ulong seed, int index) => SectorTag.Mix(SectorTag.Mix(seed) ^ (uint)index);

    /// <summary>The nonce of the data a trial of this seed writes; never 0.</summary>
    public static ulong NonceOf(ulong seed) => SectorTag.Mix(seed ^ NonceBranch) is var nonce && nonce != 0 ? nonce : 1;
}
