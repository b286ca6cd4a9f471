using System.Runtime.CompilerServices;

namespace Cardassay.Agent.Trials.Kinds;

/// <summary>
/// A light load over a long time: an overwrite, then a read of another block, at random places, with a pause between. Models an idle
/// controller that logs now and then, and looks for the longest time the card does not answer while it tidies up (common practice, no
/// source; the effect of pauses in Bouganim, Jonsson, Bonnet, CIDR 2009). Reads are checked.
/// </summary>
internal sealed class StallWatchWork(SlotContext context) : TrialWork(context)
{
    private nint _buffer;
    private bool _reads = true;

    public override bool IsRead => _reads;

    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public override bool Prepare()
    {
        if (!TakeTurn())
        {
            return false;
        }

        _reads = !_reads;
        OffsetBytes = RandomBlockOffset();
        _buffer = _reads ? Context.ReadBuffer : Context.Tagged(OffsetBytes);
        return true;
    }

    public override int Execute() => _reads
        ? Context.Target.Read(OffsetBytes, _buffer, Spec.BlockBytes)
        : Context.Target.Write(OffsetBytes, _buffer, Spec.BlockBytes);

    public override void Complete()
    {
        if (_reads)
        {
            Context.VerifyAll(_buffer, OffsetBytes);
        }
        else
        {
            Context.Written(OffsetBytes);
        }
    }
}
