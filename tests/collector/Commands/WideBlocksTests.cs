using System.Buffers;
using Cardassay.Collector.Commands;

namespace Cardassay.Collector.Tests.Commands;

/// <summary>The memory that messages are received into.</summary>
public sealed class WideBlocksTests
{
    [Fact]
    public void Rent_AfterBlocksCameBack_GivesThoseAndNoneTwice()
    {
        using var pool = new WideBlocks();
        IMemoryOwner<byte>[] first = [.. Enumerable.Range(0, 20).Select(_ => pool.Rent(1))];
        Assert.All(first, block => Assert.Equal(32 * 1024, block.Memory.Length));
        foreach (IMemoryOwner<byte> block in first)
        {
            block.Dispose();
        }

        IMemoryOwner<byte>[] second = [.. Enumerable.Range(0, 21).Select(_ => pool.Rent())];
        Assert.Equal(21, second.Distinct().Count());
        Assert.Equal(20, second.Intersect(first).Count());
    }

    [Fact]
    public void Dispose_OfMoreThan512_LetsTheRestGo()
    {
        using var pool = new WideBlocks();
        IMemoryOwner<byte>[] first = [.. Enumerable.Range(0, 600).Select(_ => pool.Rent())];
        foreach (IMemoryOwner<byte> block in first)
        {
            block.Dispose();
        }

        Assert.Equal(512, Enumerable.Range(0, 600).Select(_ => pool.Rent()).Intersect(first).Count());
    }

    [Fact]
    public void Rent_MoreThanOneBlock_IsRefused()
    {
        using var pool = new WideBlocks();
        Assert.Throws<ArgumentOutOfRangeException>(() => pool.Rent(pool.MaxBufferSize + 1));
    }
}
