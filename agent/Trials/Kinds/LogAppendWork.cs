using System.Runtime.CompilerServices;

namespace Cardassay.Agent.Trials.Kinds;

/// <summary>
/// One operation is one line of a log made durable. Lines are shorter than a block, so that the same block is written again until it is
/// full, here eight times, and then the next; the range is used in a circle. Models a system log that must survive a power cut (common
/// practice, no source): a card that keeps no open block for such writes pays for a whole one each time.
/// </summary>
internal sealed class LogAppendWork(SlotContext context) : TrialWork(context)
{
    /// <summary>Lines of 512 bytes in a block of 4 KiB (common practice, no source).</summary>
    private const int LinesPerBlock = 8;

    private long _turn = -1;
    private nint _buffer;

    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public override bool Prepare()
    {
        if (!TakeTurn())
        {
            return false;
        }

        _turn++;
        OffsetBytes = Spec.StartBytes + (_turn / LinesPerBlock % Spec.BlockCount * Spec.BlockBytes);
        _buffer = Context.Tagged(OffsetBytes);
        return true;
    }

    public override int Execute()
    {
        int errno = Context.Target.Write(OffsetBytes, _buffer, Spec.BlockBytes);
        return errno != 0 ? errno : Context.Target.Flush();
    }

    public override void Complete() => Context.Written(OffsetBytes);
}
