using Cardassay.Agent.BlockIo;
using Cardassay.Trials;

namespace Cardassay.Agent.CapacityProof;

/// <summary>
/// Judges what was read. A wrong block is read once more at once, which a link that errs now and then needs; whether it stays wrong is
/// settled by the <see cref="ClosingPass"/>.
/// </summary>
internal sealed unsafe class ReadBack(ProofIo io) : IDisposable
{
    private readonly BlockJudge _judge = new();
    private readonly AlignedBuffer _block = new(SectorTag.BlockBytes);

    /// <summary>Judges the blocks of a transfer, in address order.</summary>
    /// <param name="data">What was read; without meaning when <paramref name="errno"/> is not 0.</param>
    /// <param name="offsetBytes">Where it was read.</param>
    /// <param name="lengthBytes">How much.</param>
    /// <param name="errno">Error of the reading, 0 without.</param>
    /// <param name="nonce">The pass.</param>
    /// <param name="told">Told each block.</param>
    public void Check(byte* data, long offsetBytes, int lengthBytes, int errno, ulong nonce, Action<long, JudgedBlock> told)
    {
        for (int at = 0; at < lengthBytes; at += SectorTag.BlockBytes)
        {
            long offset = offsetBytes + at;
            if (errno == 0 && SectorTag.Matches(data + at, offset, nonce))
            {
                told(offset, JudgedBlock.Kept);
                continue;
            }

            JudgedBlock judged = errno == 0 ? _judge.Judge(data + at, offset, nonce)
                : lengthBytes == SectorTag.BlockBytes ? new JudgedBlock(BlockState.Unreadable, FoundValue: (ulong)errno)
                : ReadOne(offset, nonce); // a transfer fails as a whole; only single blocks show which of them
            if (errno == 0 && judged.MayBeTransient)
            {
                judged = ReadOne(offset, nonce) is var again && again.IsKept ? Right(again) : again;
            }

            told(offset, judged);
        }
    }

    /// <summary>Reads and judges one block.</summary>
    public JudgedBlock ReadOne(long offset, ulong nonce)
    {
        int errno = io.Read(offset, _block.Address, SectorTag.BlockBytes);
        return errno == 0
            ? _judge.Judge((byte*)_block.Address, offset, nonce)
            : new JudgedBlock(BlockState.Unreadable, FoundValue: (ulong)errno);
    }

    public void Dispose()
    {
        _judge.Dispose();
        _block.Dispose();
    }

    private JudgedBlock Right(JudgedBlock judged)
    {
        io.CountRepeat();
        return judged;
    }
}
