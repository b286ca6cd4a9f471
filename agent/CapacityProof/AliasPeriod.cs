using Cardassay.Agent.BlockIo;
using Cardassay.Agent.Trials;
using Cardassay.Trials;

namespace Cardassay.Agent.CapacityProof;

/// <summary>
/// Finds the period R of a card that takes addresses modulo R. The greatest common divisor of all distances is a multiple of R; pairs of
/// blocks R and R / p apart, for every prime divisor p, settle which. It is confirmed when every block beyond R turns into its
/// partner below, and no partner turns into the block above.
/// </summary>
/// <param name="blocks">Blocks of the range.</param>
/// <param name="seed">Places of the pairs follow from it.</param>
/// <param name="round">Writes and reads a round.</param>
internal sealed class AliasPeriod(
    long blocks, ulong seed, Func<IReadOnlyList<long>, IReadOnlyList<BlockRun>, SortedDictionary<long, JudgedBlock>> round)
{
    private const int RoundsAtMost = 6;
    private const int PairsAtPeriod = 32;
    private const int PairsPerDivisor = 2;
    private const int SectorsPerBlock = SectorTag.BlockBytes / SectorTag.SectorBytes;

    /// <summary>The period in sectors; null when the distances follow none. The ledger learns of new distances.</summary>
    public long? Confirm(ProofLedger ledger)
    {
        var random = new SeededSequence(seed);
        for (int i = 0; i < RoundsAtMost; i++)
        {
            long period = ledger.AliasStepSectors;
            if (period < SectorsPerBlock || period >= blocks * SectorsPerBlock)
            {
                return null;
            }

            long[] above = Above(period, PairsAtPeriod, random);
            var partners = new SortedSet<long>(above.SelectMany(block => Partners(block, period)));
            var singles = new SortedSet<long>(above);
            foreach (long divisor in PrimeDivisors(period).Where(p => period / p >= SectorsPerBlock))
            {
                foreach (long block in Above(period / divisor, PairsPerDivisor, random))
                {
                    singles.Add(block);
                    partners.UnionWith(Partners(block, period / divisor));
                }
            }

            SortedDictionary<long, JudgedBlock> found = round([.. singles.Where(b => !partners.Contains(b)).Reverse()],
                [.. partners.Select(b => new BlockRun(b, 1))]);
            foreach ((long block, JudgedBlock judged) in found)
            {
                ledger.AddDistance(block * SectorTag.BlockBytes, judged);
            }

            if (ledger.AliasStepSectors == period)
            {
                return Holds(above, partners, found) ? period : null;
            }
        }

        return null;
    }

    private static bool Holds(long[] above, SortedSet<long> partners, SortedDictionary<long, JudgedBlock> found) =>
        above.All(block => partners.Contains(block) || IsAliased(found[block]))
        && partners.All(
            block => found[block] is var judged
                && (judged.IsKept || (IsAliased(judged) && !WasWrittenBefore(judged.FoundSector, partners, found))));

    /// <summary>Holds the content of another block, or pieces of two in which no tag is whole.</summary>
    private static bool IsAliased(JudgedBlock judged) =>
        judged.State == BlockState.Wrapped || judged is { State: BlockState.Dropped, FoundValue: 0 };

    /// <summary>
    /// True when the content found at a partner is that of a block written before it: then the later write did not win, which no
    /// card that takes addresses modulo something does.
    /// </summary>
    private static bool WasWrittenBefore(long foundSector, SortedSet<long> partners, SortedDictionary<long, JudgedBlock> found) =>
        foundSector >= 0 && foundSector % SectorsPerBlock == 0
        && found.ContainsKey(foundSector / SectorsPerBlock) && !partners.Contains(foundSector / SectorsPerBlock);

    /// <summary>The first block at or beyond a distance, the last of the range, and random ones between.</summary>
    private long[] Above(long distanceSectors, int count, SeededSequence random)
    {
        long first = (distanceSectors + SectorsPerBlock - 1) / SectorsPerBlock;
        var found = new SortedSet<long> { first, blocks - 1 };
        for (int i = 0; i < count; i++)
        {
            found.Add(first + random.Below(blocks - first));
        }

        return [.. found.Where(b => b < blocks)];
    }

    /// <summary>The one or two blocks that lie a distance below a block.</summary>
    private static IEnumerable<long> Partners(long block, long distanceSectors)
    {
        long sector = (block * SectorsPerBlock) - distanceSectors;
        yield return sector / SectorsPerBlock;
        if (sector % SectorsPerBlock != 0)
        {
            yield return (sector / SectorsPerBlock) + 1;
        }
    }

    private static IEnumerable<long> PrimeDivisors(long number)
    {
        for (long divisor = 2; divisor * divisor <= number; divisor++)
        {
            if (number % divisor == 0)
            {
                yield return divisor;
                while (number % divisor == 0)
                {
                    number /= divisor;
                }
            }
        }

        if (number > 1)
        {
            yield return number;
        }
    }
}
