using System.Runtime.CompilerServices;

namespace Cardassay.Agent.Trials.Kinds;

/// <summary>
/// Small blocks read at random places of the range, every place as likely, every byte checked. Models starting a system and its
/// programs, the figure that matters most for a system disk (common practice, no source; the mechanism in Kim, Agrawal, Ungureanu,
/// FAST 2012). Only ranges this run wrote are read: a block never written may be answered without touching the flash. Where the run
/// overwrites a few places before (<see cref="Plans.SmallOverwrite"/>), first reads and later ones are trials of their own.
/// </summary>
internal class RandomReadWork(SlotContext context) : TrialWork(context)
{
    /// <summary>Draws of a place until one fits. A range has more than one in ten that do, or it has none.</summary>
    private const int MostDraws = 100;

    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public override bool Prepare()
    {
        if (!TakeTurn())
        {
            return false;
        }

        OffsetBytes = RandomBlockOffset();
        if (Spec.Pass == 0)
        {
            return true;
        }

        bool isFirst = Spec.Pass == 1;
        for (int draws = 1; Context.Map.IsUnread(OffsetBytes, Spec.BlockBytes) != isFirst; draws++)
        {
            if (draws == MostDraws)
            {
                return false;
            }

            OffsetBytes = RandomBlockOffset();
        }

        return true;
    }

    public override int Execute() => Context.Target.Read(OffsetBytes, Context.ReadBuffer, Spec.BlockBytes);

    public override void Complete() => Context.VerifyAll(Context.ReadBuffer, OffsetBytes);
}
