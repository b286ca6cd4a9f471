using System.Runtime.CompilerServices;

namespace Cardassay.Agent.Trials.Kinds;

/// <summary>
/// Small blocks overwritten at random places of the range, every place as likely; a flush at the end is part of the time. Models what
/// an operating system does to its disk: databases, logs, package installation (Kim, Agrawal, Ungureanu, FAST 2012: such writes
/// decide how fast applications run from flash).
/// </summary>
internal class RandomWriteWork(SlotContext context) : TrialWork(context)
{
    private nint _buffer;

    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public override bool Prepare()
    {
        if (!TakeTurn())
        {
            return false;
        }

        OffsetBytes = NextOffset();
        _buffer = Context.Tagged(OffsetBytes);
        return true;
    }

    public override int Execute() => Context.Target.Write(OffsetBytes, _buffer, Spec.BlockBytes);

    public override void Complete() => Context.Written(OffsetBytes);

    protected virtual long NextOffset() => RandomBlockOffset();
}
