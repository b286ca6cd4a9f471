using System.Runtime.CompilerServices;
using Cardassay.Plans;

namespace Cardassay.Agent.Trials.Kinds;

/// <summary>
/// One operation is one commit: a block appended to a log, made durable; the commit that fills the log also makes the checkpoint and
/// takes as long as that. Models an embedded database with a write-ahead log. See <see cref="CommitShape"/> for the numbers.
/// </summary>
internal sealed class DatabaseCommitWork(SlotContext context) : TrialWork(context)
{
    private readonly long _dataBlocks = context.Spec.BlockCount - CommitShape.LogBlocks;
    private long _turn = -1;
    private nint _logBuffer;

    private bool IsCheckpoint => _turn % CommitShape.LogBlocks == CommitShape.LogBlocks - 1;

    public override long BytesPerOperation => (IsCheckpoint ? 1 + CommitShape.LogBlocks : 1) * (long)Spec.BlockBytes;

    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public override bool Prepare()
    {
        if (!TakeTurn())
        {
            return false;
        }

        _turn++;
        OffsetBytes = Spec.StartBytes + (_turn % CommitShape.LogBlocks * Spec.BlockBytes);
        _logBuffer = Context.Tagged(OffsetBytes);
        return true;
    }

    public override int Execute()
    {
        int errno = Context.Target.Write(OffsetBytes, _logBuffer, Spec.BlockBytes);
        errno = errno != 0 ? errno : Context.Target.Flush();
        return errno != 0 || !IsCheckpoint ? errno : Checkpoint();
    }

    public override void Complete() => Context.Written(OffsetBytes);

    // Places and data are chosen within the timed part: a thousand of them take less time than one write of a card.
    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    private int Checkpoint()
    {
        for (int page = 0; page < CommitShape.LogBlocks; page++)
        {
            long offset = Spec.StartBytes + ((CommitShape.LogBlocks + Context.Random.Below(_dataBlocks)) * Spec.BlockBytes);
            if (Context.Target.Write(offset, Context.Tagged(offset), Spec.BlockBytes) is not 0 and var errno)
            {
                return errno;
            }

            Context.Written(offset);
        }

        return Context.Target.Flush();
    }
}
