using System.Runtime.CompilerServices;
using Cardassay.Plans;

namespace Cardassay.Agent.Trials.Kinds;

/// <summary>
/// Whole allocation units written from their first to their last byte in recording units of 512 KiB, one unit after the other. Models
/// the definition of the speed classes: Pw is the lowest average over sequential writes of recording units to one complete, free
/// allocation unit (SD physical layer specification 4.10, 4.13). The time of each unit is the sum of its writes; what the board does
/// between two writes is not the card's. A unit counts as free because everything in it is given up; it is not erased beforehand, and
/// the kernel sends no speed class control command: the first unit is left out, because the card may prepare itself in it (4.13.2.8), and
/// units above 4 MiB are timed in parts (table 4-60).
/// </summary>
internal sealed class ClassWriteWork(SlotContext context) : TrialWork(context)
{
    private readonly long _perUnit = context.Spec.SegmentBytes / context.Spec.BlockBytes;
    private readonly long _perPart = ClassConditions.CountedBytes(context.Spec.SegmentBytes) / context.Spec.BlockBytes;
    private long _turn = -1;
    private long _partNs;
    private long _unitNs;
    private nint _buffer;

    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public override bool Prepare()
    {
        if (!TakeTurn())
        {
            return false;
        }

        _turn++;
        OffsetBytes = Spec.StartBytes + (_turn % Spec.BlockCount * Spec.BlockBytes);
        _buffer = Context.Tagged(OffsetBytes);
        return true;
    }

    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public override int Execute()
    {
        long begun = Context.Clock.NowNs;
        int errno = Context.Target.Write(OffsetBytes, _buffer, Spec.BlockBytes);
        long ns = Context.Clock.NowNs - begun;
        _partNs = (_turn % _perPart == 0 ? 0 : _partNs) + ns;
        _unitNs = (_turn % _perUnit == 0 ? 0 : _unitNs) + ns;
        return errno;
    }

    public override void Complete()
    {
        Context.Written(OffsetBytes);
        if (_turn % _perPart == _perPart - 1 && _turn >= ClassConditions.LeftOutUnits * _perUnit)
        {
            Context.PartCounted(_partNs);
        }

        if (_turn % _perUnit == _perUnit - 1)
        {
            Context.UnitWritten(_unitNs);
        }
    }
}
