using Cardassay.Fixtures.Cards;

namespace Cardassay.Simulation.Tests.CapacityProof;

/// <summary>A card that keeps all it claims, with what else may be odd about it: size, blank content, a cache, an erring link.</summary>
internal static class HonestCard
{
    public static (SimulatedCard Card, LinkLayer? Link) Make(int seed, long leastBlocks, long mostBlocks)
    {
        var random = new Random(seed);
        long blocks = (long)(leastBlocks * Math.Pow((double)mostBlocks / leastBlocks, random.NextDouble()));
        CardLayer top = new CardStore((BlankContent)random.Next(3), (ulong)seed);
        if (random.Next(3) == 0)
        {
            top = new CacheLayer(top, random.Next(1, 8192));
        }

        LinkLayer? link = random.Next(3) == 0 ? new LinkLayer(top, seed, Math.Pow(10, -2 - (2 * random.NextDouble()))) : null;
        return (new SimulatedCard(link ?? top, (blocks * 4096) + (512 * random.Next(8))), link);
    }
}
