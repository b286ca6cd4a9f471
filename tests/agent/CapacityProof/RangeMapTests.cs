using Cardassay.Agent.CapacityProof;
using Cardassay.Trials;

namespace Cardassay.Agent.Tests.CapacityProof;

public sealed class RangeMapTests
{
    [Fact]
    public void Add_EqualNeighbours_AreOneRange()
    {
        var map = new RangeMap();
        map.Add(0, 4096, BlockState.Kept);
        map.Add(4096, 8192, BlockState.Kept);
        map.Add(8192, 12288, BlockState.Constant);
        Assert.Equal([new ProofRange(0, 8192, BlockState.Kept), new ProofRange(8192, 12288, BlockState.Constant)], map.UpTo(12288));
    }

    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    [InlineData(3)]
    public void Add_MoreRangesThanTheBound_KeepsEveryLostBlockInsideALostRange(int seed)
    {
        var random = new Random(seed);
        var map = new RangeMap(64);
        const int Blocks = 20_000;
        var lost = new HashSet<long>();
        for (long block = 0; block < Blocks; block++)
        {
            bool isLost = random.NextDouble() < 0.01;
            if (isLost)
            {
                lost.Add(block);
            }

            map.Add(block * 4096, (block + 1) * 4096, isLost ? BlockState.Dropped : BlockState.Kept);
        }

        IReadOnlyList<ProofRange> ranges = map.UpTo(Blocks * 4096L);
        Assert.InRange(ranges.Count, 2, 64);
        Assert.True(map.GrainBytes > 4096);
        Assert.Equal(0, ranges[0].StartBytes);
        Assert.Equal(Blocks * 4096L, ranges[^1].EndBytes);
        Assert.All(ranges.Zip(ranges.Skip(1)), pair => Assert.Equal(pair.First.EndBytes, pair.Second.StartBytes));
        Assert.All(lost, block => Assert.Contains(ranges, r => r.State == BlockState.Dropped && r.StartBytes <= block * 4096 && r.EndBytes > block * 4096));
        Assert.Contains(ranges, r => r.State == BlockState.Kept);
    }
}
