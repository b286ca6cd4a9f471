using System.Runtime.CompilerServices;

namespace Cardassay.Agent.Trials.Kinds;

/// <summary>
/// Small blocks read at random places of the range, every place as likely, every byte checked. Models starting a system and its
/// programs, the figure that matters most for a system disk (common practice, no source; the mechanism in Kim, Agrawal, Ungureanu,
/// FAST 2012). Only ranges this run wrote are read: a block never written may be answered without touching the flash.
/// </summary>
internal class RandomReadWork(SlotContext context) : TrialWork(context)
{
    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public override bool Prepare()
    {
        if (!TakeTurn())
        {
            return false;
        }

        OffsetBytes = RandomBlockOffset();
        return true;
    }

    public override int Execute() => Context.Target.Read(OffsetBytes, Context.ReadBuffer, Spec.BlockBytes);

    public override void Complete() => Context.VerifyAll(Context.ReadBuffer, OffsetBytes);
}
