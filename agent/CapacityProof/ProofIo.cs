using System.Runtime.InteropServices;
using Cardassay.Agent.BlockIo;
using Cardassay.Trials;

namespace Cardassay.Agent.CapacityProof;

/// <summary>
/// The transfers of a proof. One that fails is repeated a few times and counted: a link that errs now and then must not look like a card
/// that loses data. May be called from two threads.
/// </summary>
internal sealed class ProofIo(IBlockTarget target, CancellationToken cancellation)
{
    private const int Repetitions = 4;

    /// <summary>After so many failures in a row it is no accident any more, and repeating would only take hours.</summary>
    private const int FailuresInARow = 256;

    private long _repeats;
    private long _writeErrors;
    private long _operations;
    private int _failuresInARow;

    /// <summary>Transfers that succeeded after a failure, and readings that were right after a wrong one.</summary>
    public long Repeats => Interlocked.Read(ref _repeats);

    /// <summary>Blocks that could not be written.</summary>
    public long WriteErrors => Interlocked.Read(ref _writeErrors);

    /// <summary>Transfers, each counted once however often it was repeated.</summary>
    public long Operations => Interlocked.Read(ref _operations);

    public void CountRepeat() => Interlocked.Increment(ref _repeats);

    /// <summary>
    /// Writes. A transfer fails as a whole, so its blocks are then written one by one; what a block that could not be written holds is
    /// seen when reading.
    /// </summary>
    /// <exception cref="ProofStop">The card is gone.</exception>
    public void Write(long offsetBytes, nint buffer, int lengthBytes)
    {
        if (Repeated(() => target.Write(offsetBytes, buffer, lengthBytes)) == 0)
        {
            return;
        }

        if (lengthBytes == SectorTag.BlockBytes)
        {
            Interlocked.Increment(ref _writeErrors);
            return;
        }

        for (int at = 0; at < lengthBytes; at += SectorTag.BlockBytes)
        {
            Write(offsetBytes + at, buffer + at, SectorTag.BlockBytes);
        }
    }

    /// <summary>Reads; returns 0 or the error number.</summary>
    /// <exception cref="ProofStop">The card is gone.</exception>
    public int Read(long offsetBytes, nint buffer, int lengthBytes) => Repeated(() => target.Read(offsetBytes, buffer, lengthBytes));

    /// <summary>Makes everything written durable.</summary>
    /// <exception cref="ProofStop">That failed, or the card is gone.</exception>
    public void Flush()
    {
        int errno = Repeated(target.Flush);
        if (errno != 0)
        {
            throw new ProofStop(RunOutcome.Failed, $"The card could not be made to store what was written: {Errno.Text(errno)}.");
        }
    }

    private int Repeated(Func<int> transfer)
    {
        cancellation.ThrowIfCancellationRequested();
        Interlocked.Increment(ref _operations);
        int errno = transfer();
        if (errno == 0)
        {
            _failuresInARow = 0;
            return 0;
        }

        for (int i = 0; i < Repetitions && _failuresInARow < FailuresInARow; i++)
        {
            if (Errno.MeansGone(errno) || target.IsGone())
            {
                throw new ProofStop(RunOutcome.Interrupted, $"The card is gone: {Marshal.GetPInvokeErrorMessage(errno)}.");
            }

            cancellation.ThrowIfCancellationRequested();
            errno = transfer();
            if (errno == 0)
            {
                CountRepeat();
                _failuresInARow = 0;
                return 0;
            }
        }

        _failuresInARow++;
        return errno;
    }
}
