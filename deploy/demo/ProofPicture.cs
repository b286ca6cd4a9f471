using Cardassay.Trials;

namespace Cardassay.Demo;

/// <summary>
/// What a proof of a card finds: the probes of a sparse one are written, one after the other, to the places the card really gives them, and
/// then read; the last write to a place wins.
/// </summary>
internal sealed class ProofPicture
{
    private const int EdgePairs = 256;
    private const int RandomProbeCount = 299;
    private const int EvictedBlocks = 65_536;
    private const int SecondLookBlocks = 96;
    private const int RunTransferBlocks = 256;
    private const int ExamplesAtMost = 64;

    private readonly long _blocks;
    private readonly long _placesOfCard;
    private readonly Chance _chance;

    private ProofPicture(Silicon silicon, Chance chance)
    {
        _blocks = silicon.CapacityBytes / ProofMeasured.BlockBytes;
        _placesOfCard = (silicon.StoredBytes ?? silicon.CapacityBytes) / ProofMeasured.BlockBytes;
        _chance = chance;
    }

    /// <summary>Bytes a proof of this kind writes at the most, the second look of a sparse one included.</summary>
    public static long MostBytesWritten(Silicon silicon, ProofKind kind)
    {
        long blocks = silicon.CapacityBytes / ProofMeasured.BlockBytes;
        return ProofMeasured.BlockBytes * (kind == ProofKind.Full
            ? blocks + EvictedBlocks
            : (2 * Step(blocks)) + (2 * EdgePairs) + RandomProbeCount + 2 + SecondLookBlocks + (2 * EvictedBlocks));
    }

    /// <summary>The record without times and conditions.</summary>
    public static ProofMeasured Draw(RunId runId, Silicon silicon, ProofKind kind, Chance chance)
    {
        var picture = new ProofPicture(silicon, chance);
        ProofMeasured frame = new()
        {
            RunId = runId,
            Complete = true,
            Kind = kind,
            ClaimedBytes = silicon.CapacityBytes,
            CoveredBytes = silicon.CapacityBytes,
            Seed = chance.Bits(),
            Nonce = chance.Bits() | 1,
            LinkErrors = 0,
        };
        return kind == ProofKind.Full ? picture.Full(frame) : picture.Sparse(frame);
    }

    private static long Step(long blocks) => (long)Math.Ceiling(Math.Sqrt(blocks));

    private ProofMeasured Full(ProofMeasured frame) => frame with
    {
        Finding = ProofFinding.NoneFound,
        BlocksWritten = _blocks,
        BlocksRead = _blocks,
        Counts = new BlockCounts(_blocks, 0, 0, 0, 0, 0),
        Ranges = [new ProofRange(0, frame.CoveredBytes, BlockState.Kept)],
        EvictionBlocks = EvictedBlocks,
        WrittenThroughBytes = frame.CoveredBytes,
        ReadThroughBytes = frame.CoveredBytes,
    };

    private ProofMeasured Sparse(ProofMeasured frame)
    {
        long step = Step(_blocks);
        long runBlocks = step + 1;
        var lattice = new SortedSet<long> { _blocks - 1 };
        for (long block = 2 * step; block < _blocks; block += step)
        {
            lattice.Add(block);
        }

        var singles = new SortedSet<long>(lattice);
        long unit = 1024; // 4 MiB
        long boundaries = (_blocks - 1) / unit;
        for (long i = 0; i < EdgePairs; i++)
        {
            long boundary = (1 + (boundaries * i / EdgePairs)) * unit;
            singles.UnionWith([boundary - 1, boundary]);
        }

        singles.RemoveWhere(block => block < runBlocks);
        int edges = singles.Count - lattice.Count;
        for (long i = 0; i < RandomProbeCount; i++)
        {
            long start = _blocks * i / RandomProbeCount;
            singles.Add(start + (long)(_chance.Unit() * ((_blocks * (i + 1) / RandomProbeCount) - start)));
        }

        singles.RemoveWhere(block => block < runBlocks);
        long[] order = [.. singles.Reverse(), .. Range(0, runBlocks)];
        Dictionary<long, long> ownerOf = [];
        foreach (long block in order)
        {
            ownerOf[block % _placesOfCard] = block;
        }

        foreach (long block in Range(_blocks - EvictedBlocks - singles.Count, EvictedBlocks + singles.Count).Where(b => !singles.Contains(b)))
        {
            ownerOf[block % _placesOfCard] = block;
        }

        long[] lost = [.. order.Where(block => ownerOf[block % _placesOfCard] != block)];
        bool isHonest = lost.Length == 0;
        long stored = _placesOfCard * ProofMeasured.BlockBytes;
        return frame with
        {
            Finding = isHonest ? ProofFinding.NoneFound : ProofFinding.Wrap,
            TrueBytes = isHonest ? null : stored,
            BlocksWritten = order.Length + (isHonest ? 0 : SecondLookBlocks),
            BlocksRead = order.Length,
            Counts = new BlockCounts(order.Length - lost.Length, lost.Length, 0, 0, 0, 0),
            LatticeBlocks = runBlocks + lattice.Count,
            LatticeOperations = 2 * (lattice.Count + ((runBlocks + RunTransferBlocks - 1) / RunTransferBlocks)),
            EdgeProbes = edges,
            RandomProbes = RandomProbeCount,
            EvictionBlocks = isHonest ? EvictedBlocks : 2 * EvictedBlocks,
            FollowUpBlocks = isHonest ? 0 : SecondLookBlocks,
            LostFractionBelow = isHonest ? 3.0 / RandomProbeCount : null,
            Ranges = isHonest
                ? [new ProofRange(0, frame.CoveredBytes, BlockState.Kept)]
                : [new ProofRange(0, stored, BlockState.Kept), new ProofRange(stored, frame.CoveredBytes, BlockState.Wrapped)],
            LostBlocks = [.. lost.Order().Take(ExamplesAtMost).Select(block => new LostBlock(
                block * ProofMeasured.BlockBytes, BlockState.Wrapped, ownerOf[block % _placesOfCard] * ProofMeasured.BlockBytes))],
            AliasStepBytes = isHonest ? 0 : stored,
        };
    }

    private static IEnumerable<long> Range(long start, long count)
    {
        for (long block = start; block < start + count; block++)
        {
            yield return block;
        }
    }
}
