using Cardassay.Agent.Trials;

namespace Cardassay.Agent.Tests.Trials;

public sealed class StallKeeperTests
{
    [Theory]
    [InlineData(5)]
    [InlineData(100)]
    [InlineData(2_000)]
    public void Add_MoreThanItHolds_KeepsTheLongest(int count)
    {
        var random = new Random(count);
        var keeper = new StallKeeper(100);
        long[] latencies = [.. Enumerable.Range(0, count).Select(_ => random.NextInt64(1, 1_000_000))];
        foreach (long latency in latencies)
        {
            keeper.Add(0, 0, latency);
        }

        Assert.Equal(count, keeper.Seen);
        Assert.Equal(latencies.OrderDescending().Take(100), keeper.Kept.ToArray().Select(stall => stall.LatencyNs).OrderDescending());
    }
}
