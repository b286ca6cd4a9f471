using System.Runtime.CompilerServices;

namespace Cardassay.Agent.Trials.Kinds;

/// <summary>
/// Large blocks written one after the other, from the start of the range, again from the start when it ends; a flush at the end is
/// part of the time. Models copying a large file or recording video; 512 KiB is the recording unit of the SD speed grades
/// (physical layer specification 4.10, 4.13).
/// </summary>
internal class SequentialWriteWork(SlotContext context) : TrialWork(context)
{
    private nint _buffer;

    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public override bool Prepare()
    {
        long turn = Context.Cursor.Next();
        if (turn - Spec.FirstTurn >= Spec.OperationsAtMost)
        {
            return false;
        }

        OffsetBytes = Spec.StartBytes + (turn % Spec.BlockCount * Spec.BlockBytes);
        _buffer = Context.Tagged(OffsetBytes);
        return true;
    }

    public override int Execute() => Context.Target.Write(OffsetBytes, _buffer, Spec.BlockBytes);

    public override void Complete() => Context.Written(OffsetBytes);
}
