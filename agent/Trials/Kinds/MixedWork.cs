using System.Runtime.CompilerServices;

namespace Cardassay.Agent.Trials.Kinds;

/// <summary>
/// Reads and overwrites of small blocks at random places, a stated part of them reads; reads are checked. Models a busy system: a
/// card that is good at either alone may stop reading while it tidies up after writes (Bouganim, Jonsson, Bonnet, CIDR 2009).
/// </summary>
internal sealed class MixedWork(SlotContext context) : TrialWork(context)
{
    private nint _buffer;
    private bool _reads;

    public override bool IsRead => _reads;

    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public override bool Prepare()
    {
        if (!TakeTurn())
        {
            return false;
        }

        _reads = Context.Random.Below(100) < Spec.ReadPercent;
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
