using Cardassay.Agent.BlockIo;
using Cardassay.Agent.CapacityProof;
using Cardassay.Trials;

namespace Cardassay.Agent.Tests.CapacityProof;

public sealed unsafe class BlockJudgeTests : IDisposable
{
    private const ulong Nonce = 77;
    private const long Place = 40 * 4096;

    private readonly AlignedBuffer _buffer = new(3 * 4096);
    private readonly BlockJudge _judge = new();

    private byte* Block => (byte*)_buffer.Address;

    [Fact]
    public void Judge_OwnBlock_IsKept()
    {
        SectorTag.Write(Block, Place, Nonce);
        Assert.Equal(JudgedBlock.Kept, Judge());
    }

    [Fact]
    public void Judge_BlockOfAnotherPlace_IsWrappedFromThere()
    {
        SectorTag.Write(Block, 7 * 4096, Nonce);
        Assert.Equal(new JudgedBlock(BlockState.Wrapped, 7 * 8), Judge());
    }

    [Theory]
    [InlineData(1)]
    [InlineData(7)]
    public void Judge_BlockThatBeginsInsideAnother_IsWrappedFromItsSector(int sector)
    {
        // Read across two blocks written at places 7 and 8, as a card does whose size is no multiple of 4,096.
        SectorTag.Write(Block, 7 * 4096, Nonce);
        SectorTag.Write(Block + 4096, 8 * 4096, Nonce);
        Assert.Equal(new JudgedBlock(BlockState.Wrapped, (7 * 8) + sector), _judge.Judge(Block + (sector * 512), Place, Nonce));
    }

    [Fact]
    public void Judge_BlockOfAnEarlierPass_IsDropped()
    {
        SectorTag.Write(Block, Place, 5);
        Assert.Equal(new JudgedBlock(BlockState.Dropped, FoundValue: 5), Judge());
    }

    [Theory]
    [InlineData(0x00)]
    [InlineData(0xFF)]
    public void Judge_OneByteAllOver_IsConstant(byte value)
    {
        new Span<byte>(Block, 4096).Fill(value);
        Assert.Equal(new JudgedBlock(BlockState.Constant, FoundValue: value), Judge());
    }

    [Fact]
    public void Judge_ForeignContent_IsDroppedWithoutAName()
    {
        new Random(3).NextBytes(new Span<byte>(Block, 4096));
        Assert.Equal(new JudgedBlock(BlockState.Dropped), Judge());
    }

    [Theory]
    [InlineData(0)] // in the header
    [InlineData(8 * 100)] // in the fill
    [InlineData((8 * 4096) - 1)] // in the checksum at the end
    public void Judge_ChangedBits_AreNamed(int firstBit)
    {
        SectorTag.Write(Block, Place, Nonce);
        foreach (int bit in new[] { firstBit, (firstBit + 9000) % (8 * 4096) })
        {
            Block[bit / 8] ^= (byte)(1 << (bit % 8));
        }

        Assert.Equal(new JudgedBlock(BlockState.Decayed, FlippedBits: 2, FirstFlippedBit: Math.Min(firstBit, (firstBit + 9000) % (8 * 4096))), Judge());
    }

    [Fact]
    public void Judge_OneSectorOfAnotherBlock_IsNoDecay()
    {
        SectorTag.Write(Block, Place, Nonce);
        SectorTag.Write(Block + 4096, 9 * 4096, Nonce);
        Buffer.MemoryCopy(Block + 4096, Block + (7 * 512), 512, 512);
        Assert.Equal(new JudgedBlock(BlockState.Wrapped, (9 * 8) - 7), Judge());
    }

    public void Dispose()
    {
        _buffer.Dispose();
        _judge.Dispose();
    }

    private JudgedBlock Judge() => _judge.Judge(Block, Place, Nonce);
}
