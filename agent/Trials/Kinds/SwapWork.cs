using System.Runtime.CompilerServices;
using Cardassay.Agent.BlockIo;

namespace Cardassay.Agent.Trials.Kinds;

/// <summary>
/// Pages go out while others come in: one slot writes clusters of 32 KiB at random places, the other reads single pages of 4 KiB at
/// random places; each by itself as fast as it can. Models a board short of memory, where a program waits for its page and not for the
/// writing: the reads alone are the figure (common practice, no source; the cluster is the kernel's default of 8 pages, Linux,
/// Documentation/admin-guide/sysctl/vm.rst, page-cluster).
/// </summary>
internal sealed class SwapWork(SlotContext context) : TrialWork(context)
{
    private nint _buffer;

    public override bool IsRead => Context.Slot > 0;

    public override long BytesPerOperation => IsRead ? SectorTag.BlockBytes : Spec.BlockBytes;

    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public override bool Prepare()
    {
        // Reads without the writes beside them would be another trial.
        if (Context.Cursor.IsEnded || !TakeTurn())
        {
            Context.Cursor.End();
            return false;
        }

        OffsetBytes = RandomBlockOffset();
        if (IsRead)
        {
            OffsetBytes += Context.Random.Below(Spec.BlockBytes / SectorTag.BlockBytes) * SectorTag.BlockBytes;
            return true;
        }

        _buffer = Context.Tagged(OffsetBytes);
        return true;
    }

    public override int Execute() => IsRead
        ? Context.Target.Read(OffsetBytes, Context.ReadBuffer, SectorTag.BlockBytes)
        : Context.Target.Write(OffsetBytes, _buffer, Spec.BlockBytes);

    public override void Complete()
    {
        if (IsRead)
        {
            Context.VerifyAll(Context.ReadBuffer, OffsetBytes, SectorTag.BlockBytes);
        }
        else
        {
            Context.Written(OffsetBytes);
        }
    }
}
