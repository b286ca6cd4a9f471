using Cardassay.Agent.CapacityProof;

namespace Cardassay.Agent.Tests.CapacityProof;

public sealed class SparsePlanTests
{
    private static readonly SparseOptions Options = new();

    [Fact]
    public void Plan_Of64GiB_HasTheProbesTheMathematicsAsksFor()
    {
        var plan = new SparsePlan(64L << 30, Options, 1);

        // L = sqrt(C b) = 16 MiB: 4,096 + 4,096 probes, the least there can be; one more for boundaries inside a block.
        Assert.Equal(4096, plan.Step);
        Assert.InRange(plan.LatticeBlocks, 8192, 8193);
        Assert.Equal(299, plan.Random.Count);
        Assert.InRange(plan.EdgeProbes, 1, 512);
        Assert.Equal((64L << 30) / 4096, plan.HighToLow[0] + 1);
    }

    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    [InlineData(5)]
    [InlineData(1000)]
    [InlineData(123_457)]
    public void Plan_AnySize_ProbesEveryBlockOnceAndRandomOnesInEqualStrata(long blocks)
    {
        var plan = new SparsePlan(blocks * 4096, Options, 9);
        Assert.Equal(plan.HighToLow.OrderByDescending(b => b).Distinct(), plan.HighToLow);
        Assert.All(plan.HighToLow, block => Assert.InRange(block, plan.Run.End, blocks - 1));
        Assert.Equal(Math.Min(299, blocks), plan.Random.Count);
        for (int i = 0; i < plan.Random.Count; i++)
        {
            Assert.InRange(plan.Random[i], blocks * i / plan.Random.Count, (blocks * (i + 1) / plan.Random.Count) - 1);
        }
    }

    [Theory]
    [InlineData(997)]
    [InlineData(1024)]
    [InlineData(2500)]
    public void Plan_WrapAtEveryBoundary_PutsAProbeOntoTheRun(long blocks)
    {
        // The claim itself, checked for every R in sectors by what lands where.
        var plan = new SparsePlan(blocks * 4096, Options with { RandomProbes = 0, EdgeProbesAtMost = 0 }, 1);
        for (long period = 16; period < blocks * 8; period++)
        {
            bool lands = plan.HighToLow.Any(block => (block * 8) + 7 >= period && ((block * 8) % period) < plan.Run.End * 8 && (block * 8) >= period)
                || plan.Run.End * 8 > period // the run goes over itself
                || plan.HighToLow.Any(block => block * 8 < period && (block * 8) + 8 > period); // it crosses the boundary
            Assert.True(lands, $"R = {period} sectors of {blocks * 8}");
        }
    }

    [Fact]
    public void Eviction_Writes_AreDistinctTouchNoProbeAndComeFromTheTop()
    {
        var probes = new List<BlockRun> { new(0, 20), new(300, 1), new(301, 1), new(2000, 1), new(4999, 1) };
        List<BlockRun> writes = [.. Eviction.Writes(5000, probes, 4000)];
        long[] blocks = [.. writes.SelectMany(w => Enumerable.Range(0, (int)w.Count).Select(i => w.Start + i))];
        Assert.Equal(4000, blocks.Distinct().Count());
        Assert.Equal(4000, blocks.Length);
        Assert.DoesNotContain(blocks, b => probes.Any(p => b >= p.Start && b < p.End));
        Assert.All(writes, w => Assert.InRange(w.Count, 1, 256));
        Assert.Equal(writes.OrderByDescending(w => w.Start), writes);
        Assert.Equal(4998, writes[0].End - 1);
        Assert.Equal(5000 - 24, Eviction.Writes(5000, probes, 1_000_000).Sum(w => w.Count));
    }
}
