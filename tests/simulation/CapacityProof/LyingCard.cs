using Cardassay.Fixtures.Cards;

namespace Cardassay.Simulation.Tests.CapacityProof;

/// <summary>A card that does not keep what it claims, made from a seed, and what is known about it.</summary>
internal sealed class LyingCard
{
    private const int BlockBytes = 4096;

    private LyingCard(Fault fault, int seed, SimulatedCard card)
    {
        Fault = fault;
        Seed = seed;
        Card = card;
    }

    public Fault Fault { get; }

    public int Seed { get; }

    public SimulatedCard Card { get; }

    /// <summary>Bytes really kept, where that is one number; else null.</summary>
    public long? TrueBytes { get; private set; }

    /// <summary>Bytes it has room for, a cache included and rounded up to blocks, where that is less than it claims and known; else null.</summary>
    public long? RoomBytes { get; private set; }

    /// <summary>Part of all blocks that is lost however little was written.</summary>
    public double LostPart { get; private set; }

    /// <summary>Makes a card.</summary>
    /// <param name="fault">What is wrong.</param>
    /// <param name="seed">Everything else.</param>
    /// <param name="leastBlocks">Smallest claimed size.</param>
    /// <param name="mostBlocks">Largest claimed size.</param>
    /// <param name="evictionBlocks">Blocks of the eviction; caches are smaller.</param>
    public static LyingCard Make(Fault fault, int seed, long leastBlocks, long mostBlocks, int evictionBlocks)
    {
        var random = new Random(seed);
        long blocks = (long)(leastBlocks * Math.Pow((double)mostBlocks / leastBlocks, random.NextDouble()));
        long bytes = (blocks * BlockBytes) + (random.Next(4) == 0 ? 512 * random.Next(8) : 0);
        var blank = (BlankContent)random.Next(3);
        var store = new CardStore(blank, (ulong)seed);
        byte? constant = random.Next(3) switch { 0 => 0, 1 => 0xFF, _ => null };

        // From a thirty-second of the claim up to one block less; one in five at a boundary inside a block.
        long trueBlocks = Math.Clamp((long)(blocks * Math.Pow(32, -random.NextDouble())), 2, blocks - 1);
        long trueBytes = (trueBlocks * BlockBytes) - (random.Next(5) == 0 ? 512 * random.Next(8) : 0);
        double part = Math.Pow(10, -1 - (2 * random.NextDouble()));
        ulong dice = (ulong)random.NextInt64();
        int cache = random.Next(1, evictionBlocks);
        part = fault == Fault.ScatteredWidely ? 0.01 * Math.Pow(30, random.NextDouble()) : part;
        long lattice = (long)Math.Ceiling(Math.Sqrt(blocks));
        long unit = Math.Min(128, (blocks - trueBlocks + 1) / 2);
        bool Falls(long block) => Dice.Falls(dice, (ulong)block, part) && (fault != Fault.InStepWithLattice || (block % lattice != 0 && block > lattice));
        while (fault is Fault.InStepWithLattice or Fault.Scattered or Fault.ScatteredWidely or Fault.Decay or Fault.Unreadable && !Enumerable.Sequence(0, blocks - 1, 1L).Any(Falls))
        {
            dice++; // on a small card nothing may be lost at all, and there would be nothing to find
        }

        long? known = null;
        double lost = (double)(blocks - trueBlocks) / blocks;
        CardLayer top;
        switch (fault)
        {
            case Fault.Wrap:
            case Fault.WrapBehindCache:
                known = trueBytes;
                top = new WrapLayer(store, trueBytes);
                break;
            case Fault.Drop:
            case Fault.DropBehindCache:
                known = trueBytes / BlockBytes * BlockBytes;
                top = new DropLayer(store, at => at >= trueBytes, constant);
                break;
            case Fault.LastUnitReal:
                known = (trueBlocks + unit) * BlockBytes;
                lost = (double)(blocks - trueBlocks - unit) / blocks;
                top = new DropLayer(store, at => at >= trueBlocks * BlockBytes && at < (blocks - unit) * BlockBytes, constant);
                break;
            case Fault.Fold:
                long window = random.NextInt64(1, trueBlocks + 1);
                top = new FoldLayer(store, trueBlocks * BlockBytes, random.NextInt64(trueBlocks - window + 1) * BlockBytes, window * BlockBytes);
                break;
            case Fault.InStepWithLattice:
                lost = part;
                top = new DropLayer(store, at => Falls(at / BlockBytes), constant);
                break;
            case Fault.AllocatedOnWrite:
                lost = 0;
                top = new AllocatingLayer(store, trueBlocks);
                break;
            case Fault.OddMebibytes:
                known = null;
                lost = (double)Enumerable.Sequence(0, blocks - 1, 1L).Count(b => (b >> 8 & 1) == 1) / blocks;
                top = new DropLayer(store, at => (at >> 20 & 1) == 1, constant);
                break;
            case Fault.StalePass:
                known = trueBytes / BlockBytes * BlockBytes;
                top = new StalePassLayer(store, trueBytes / BlockBytes * BlockBytes, dice);
                break;
            case Fault.Scattered:
            case Fault.ScatteredWidely:
                lost = part;
                top = new DropLayer(store, at => Falls(at / BlockBytes), constant);
                break;
            case Fault.Decay:
                lost = part;
                top = new DecayLayer(store, dice, part, random.Next(1, 40));
                break;
            case Fault.Unreadable:
                lost = part;
                top = new ErrorLayer(store, at => Falls(at / BlockBytes));
                break;
            case Fault.UnreadableStretch:
                long length = Math.Max(1, (long)(part * blocks));
                long from = random.NextInt64(blocks - length);
                lost = (double)length / blocks;
                top = new ErrorLayer(store, at => at / BlockBytes >= from && at / BlockBytes < from + length);
                break;
            case Fault.SwappedHalves:
                lost = 1;
                top = new SwapLayer(store, blocks / 2 * BlockBytes);
                break;
            default:
                throw new ArgumentOutOfRangeException(nameof(fault));
        }

        if (fault is Fault.WrapBehindCache or Fault.DropBehindCache)
        {
            // Either it caches all writes, or only those that have no place, of which there are then more than it holds.
            bool hides = fault == Fault.DropBehindCache && (blocks - trueBlocks) > 2 * evictionBlocks && random.Next(2) == 0;
            top = new CacheLayer(top, cache, hides ? trueBytes : 0);
        }

        return new LyingCard(fault, seed, new SimulatedCard(top, bytes)) 
        {
            TrueBytes = known,
            LostPart = lost,
            RoomBytes = fault switch
            {
                Fault.OddMebibytes => (long)Math.Round(blocks * (1 - lost)) * BlockBytes,
                Fault.Wrap or Fault.Drop or Fault.StalePass or Fault.Fold or Fault.AllocatedOnWrite => trueBlocks * BlockBytes,
                Fault.WrapBehindCache or Fault.DropBehindCache => (trueBlocks + cache) * BlockBytes,
                Fault.LastUnitReal => known,
                _ => null,
            },
        };
    }
}
