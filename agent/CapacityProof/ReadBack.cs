using Cardassay.Agent.BlockIo;
using Cardassay.Trials;

namespace Cardassay.Agent.CapacityProof;

/// <summary>
/// Judges what was read, and reads again before it calls a block lost: a wrong reading that comes right belongs to the link or the
/// reader. Where the host counts link errors, it also notes whether they rose meanwhile.
/// </summary>
internal sealed unsafe class ReadBack(ProofIo io, Func<long?> linkErrors) : IDisposable
{
    private const int Repetitions = 4;

    /// <summary>Asking the host costs more than a reading; the first lost blocks tell enough.</summary>
    private const int LinkQuestionsAtMost = 256;

    private readonly BlockJudge _judge = new();
    private readonly AlignedBuffer _block = new(SectorTag.BlockBytes);
    private int _linkQuestions;
    private int _unreadableInARow;

    /// <summary>Lost blocks while the host counted link errors.</summary>
    public long LinkSuspects { get; private set; }

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
                _unreadableInARow = 0;
                told(offset, JudgedBlock.Kept);
                continue;
            }

            JudgedBlock judged = errno == 0 ? _judge.Judge(data + at, offset, nonce)
                : lengthBytes == SectorTag.BlockBytes ? new JudgedBlock(BlockState.Unreadable, FoundValue: (ulong)errno)
                : ReadOne(offset, nonce); // a transfer fails as a whole; only single blocks show which of them
            if (!judged.IsKept)
            {
                judged = Again(offset, nonce, judged);
            }

            told(offset, judged);
        }
    }

    public void Dispose()
    {
        _judge.Dispose();
        _block.Dispose();
    }

    private JudgedBlock Again(long offset, ulong nonce, JudgedBlock judged)
    {
        if (!judged.MayBeTransient)
        {
            return judged;
        }

        _unreadableInARow = judged.State == BlockState.Unreadable ? _unreadableInARow + 1 : 0;
        if (_unreadableInARow > Repetitions * LinkQuestionsAtMost)
        {
            return judged;
        }

        bool asks = _linkQuestions++ < LinkQuestionsAtMost;
        long? before = asks ? linkErrors() : null;
        for (int i = 0; i < Repetitions; i++)
        {
            JudgedBlock now = ReadOne(offset, nonce);
            if (now.IsKept)
            {
                io.CountRepeat();
                _unreadableInARow = 0;
                return now;
            }

            judged = now;
        }

        if (asks && linkErrors() > before)
        {
            LinkSuspects++;
        }

        return judged;
    }

    private JudgedBlock ReadOne(long offset, ulong nonce)
    {
        int errno = io.Read(offset, _block.Address, SectorTag.BlockBytes);
        return errno == 0
            ? _judge.Judge((byte*)_block.Address, offset, nonce)
            : new JudgedBlock(BlockState.Unreadable, FoundValue: (ulong)errno);
    }
}
